package warehouse

// keySet is a set of hashes of keys. A file of 2 GB has millions of them, and the
// memory they take decides what machine can take it in: here about 12 bytes each,
// where a map needs 25, and a part at a time is made larger, not all at once.
type keySet struct {
	parts [256]keyPart // by the first byte, which is as good as drawn
	count int
}

// keyPart is a table with open addresses; 0 is an empty place.
type keyPart struct {
	places []uint64
	filled int
	zero   bool // 0 is in the set
}

// add puts a hash into the set and says whether it is new.
func (s *keySet) add(hash uint64) bool {
	p := &s.parts[hash>>56]
	if hash == 0 {
		fresh := !p.zero
		p.zero = true
		if fresh {
			s.count++
		}
		return fresh
	}
	if len(p.places)*4 <= p.filled*5 { // at most four fifths are filled
		p.grow()
	}
	at, there := p.find(hash)
	if !there {
		p.places[at] = hash
		p.filled++
		s.count++
	}
	return !there
}

// has says whether a hash is in the set; none is in a set that there is not.
func (s *keySet) has(hash uint64) bool {
	if s == nil {
		return false
	}
	p := &s.parts[hash>>56]
	if hash == 0 {
		return p.zero
	}
	if len(p.places) == 0 {
		return false
	}
	_, there := p.find(hash)
	return there
}

// addAll puts every hash of another set into the set.
func (s *keySet) addAll(other *keySet) {
	for i := range other.parts {
		p := &other.parts[i]
		if p.zero {
			s.add(0)
		}
		for _, hash := range p.places {
			if hash != 0 {
				s.add(hash)
			}
		}
	}
}

// find returns where a hash stands, or the empty place where it would.
func (p *keyPart) find(hash uint64) (at int, there bool) {
	at = int(hash % uint64(len(p.places))) //nolint:gosec // less than the length of a slice
	for p.places[at] != 0 && p.places[at] != hash {
		if at++; at == len(p.places) {
			at = 0
		}
	}
	return at, p.places[at] == hash
}

func (p *keyPart) grow() {
	old := p.places
	p.places = make([]uint64, len(old)*3/2+8)
	for _, hash := range old {
		if hash != 0 {
			at, _ := p.find(hash)
			p.places[at] = hash
		}
	}
}
