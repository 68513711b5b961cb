package warehouse

import (
	"math/rand/v2"
	"testing"
)

func TestKeySet(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	var set keySet
	want := map[uint64]bool{}
	for i := range 200_000 {
		hash := rng.Uint64() >> (rng.IntN(8) * 8) // small ones, 0 among them, crowd in the first part
		if got := set.add(hash); got == want[hash] {
			t.Fatalf("step %d: %x is new: %v", i, hash, got)
		}
		want[hash] = true
		if other := rng.Uint64() >> 40; set.has(other) != want[other] {
			t.Fatalf("step %d: %x is there: %v", i, other, !want[other])
		}
	}
	if set.count != len(want) {
		t.Errorf("%d hashes, want %d", set.count, len(want))
	}
	if (*keySet)(nil).has(7) || new(keySet).has(7) || new(keySet).has(0) {
		t.Error("an empty set has something")
	}
	places := 0
	for _, p := range set.parts[1:] {
		places += len(p.places)
	}
	if inParts := set.count - set.parts[0].filled; places > 2*inParts {
		t.Errorf("%d places for %d hashes", places, inParts)
	}
}
