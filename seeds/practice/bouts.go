package practice

import "math"

// bouts writes the work of one visit: with the cuff, without it, now and then
// with the other limb, and early after an operation some cuff cycles at rest.
func (r *recorder) bouts(id string, v visit) {
	e, out := &r.st.episode, &r.out
	r.mute(v.day)
	defer r.speak()
	no := 0
	for i, w := range v.work.efforts[:v.work.n] {
		no++
		r.cuffBout(id, no, e.injury.exercises[i], w, v, e.side)
	}
	if v.work.n > 0 && e.side != bilateral && out.rng.Float64() < 0.03 {
		no++ // the other limb: not to be counted as dose of the involved one
		r.cuffBout(id, no, e.injury.exercises[0], v.work.efforts[0], v, 1-e.side)
	}
	if e.injury.kind == "post_operative" && e.injury.region == "lower_limb" && ways[e.way].cuff && v.day < 21 {
		no++
		r.passiveBout(id, no, v)
	}
	if v.work.n == 0 {
		for _, exercise := range e.injury.exercises[:3] {
			no++
			r.plainBout(id, no, exercise, v.day, 60)
		}
	}
	extra := 2 + out.rng.IntN(3)
	for i := range extra {
		no++
		r.plainBout(id, no, e.injury.others[i%3], v.day, 40)
	}
}

func (r *recorder) homeBouts(id string, on int) {
	r.mute(on)
	defer r.speak()
	for i := range 2 {
		r.plainBout(id, i+1, r.st.episode.injury.others[i], on, 30)
	}
}

// level is the step on an exercise's ladder: it rises with progress.
func (r *recorder) level(exercise string, on int) int {
	top := r.w.steps[exercise]
	return min(top, 1+int(float64(top)*float64(on)/(1.1*r.st.episode.need)))
}

func (r *recorder) movement(id string, no int, exercise string, on, side int) (level int) {
	out := &r.out
	out.text(id)
	out.whole(no)
	out.text(exercise)
	level = r.level(exercise, on)
	out.wholeOr(0.05, level)
	out.textOr(0.3, [...]string{"partial", "full"}[min(1, level/2)])
	if level == 1 && side == r.st.episode.side || side == bilateral {
		out.textOr(0.05, "both")
		out.text("bilateral")
	} else {
		out.textOr(0.05, "one")
		out.text(sides[side])
	}
	return level
}

func (r *recorder) cuffBout(id string, no int, exercise string, w effort, v visit, side int) {
	e, out := &r.st.episode, &r.out
	from := r.begin()
	level := r.movement(id, no, exercise, v.day, side)
	r.amount(w.sets, w.reps)
	out.empty()
	out.wholeOr(0.1, secondsPerRep)
	r.load(exercise, level, 25)
	out.wholeOr(0.2, restSeconds)
	out.wholeOr(0.3, out.rng.IntN(5))
	r.pressure(v, v.work.percent, ways[e.way].mode)
	out.empty()
	out.decimalOr(r.w.scenario.bout(0.02), w.minutes, 1)
	r.ending()
	r.put(boutsTable, from, "", v.day)
}

// amount writes sets, repetitions and repetitions by set.
func (r *recorder) amount(sets, reps int) {
	out := &r.out
	rate := r.w.scenario.bout(0.01)
	out.wholeOr(rate, sets)
	out.wholeOr(rate, reps)
	if out.missing(0.4) || sets < 1 || out.mute {
		out.empty()
		return
	}
	out.sep()
	out.buf = append(out.buf, "30"...)
	for range sets - 1 {
		out.buf = append(out.buf, "/15"...)
	}
}

func (r *recorder) load(exercise string, level, percent int) {
	out := &r.out
	if exercise == "heel_raise_standing" && level < 5 || exercise == "balance_reach" || exercise == "bridge" && level < 4 {
		out.empty()
		out.text("body_weight")
	} else {
		full := 8.0
		if r.st.episode.injury.region == "lower_limb" {
			full = 30
		}
		kg := full * math.Exp(r.st.episode.person.size) * (0.4 + 0.25*float64(level)) * float64(percent) / 30
		out.decimalOr(0.02, math.Max(0.5, math.Round(2*kg)/2), 1)
		out.text("external")
	}
	out.wholeOr(0.25, percent+5*out.rng.IntN(3)-5)
}

// pressure writes the nine cells from cuff_inflated to cuff_code.
func (r *recorder) pressure(v visit, percent int, mode string) {
	e, out := &r.st.episode, &r.out
	full, width := 188.0, "11"
	if e.injury.region == "upper_limb" {
		full, width = 148, "7.5"
	}
	measured := v.day / 28 * 28
	full = math.Max(110, math.Min(290, math.Round(full*math.Exp(0.5*e.person.size)+float64(2*e.person.age)+float64(measured%5))))
	out.yesOr(0.05, true)
	out.text(mode)
	out.wholeOr(r.w.scenario.bout(0.04), int(full))
	out.textOr(0.06, [...]string{"supine", "seated"}[e.number%2])
	if e.number%9 == 0 {
		out.text("estimated")
	} else {
		out.textOr(0.04, "doppler")
	}
	out.dateOr(0.06, e.start+day(measured))
	out.whole(int(math.Round(full * float64(percent) / 100)))
	out.wholeOr(r.w.scenario.bout(0.12), percent)
	out.textOr(0.04, width)
	out.empty()
}

func (r *recorder) passiveBout(id string, no int, v visit) {
	e, out := &r.st.episode, &r.out
	from := r.begin()
	out.text(id)
	out.whole(no)
	out.text("passive_cuff")
	out.empties(3)
	out.text(sides[e.side])
	out.empties(10)
	r.pressure(v, 65, "passive")
	out.whole(3)
	out.whole(15)
	r.ending()
	r.put(boutsTable, from, "", v.day)
}

func (r *recorder) plainBout(id string, no int, exercise string, on, percent int) {
	out := &r.out
	from := r.begin()
	level := r.movement(id, no, exercise, on, r.st.episode.side)
	sets := 3
	out.wholeOr(0.01, sets)
	out.wholeOr(0.01, sets*(8+out.rng.IntN(5)))
	out.empties(2)
	out.wholeOr(0.2, secondsPerRep)
	r.load(exercise, level, percent)
	out.wholeOr(0.2, 60)
	out.wholeOr(0.4, out.rng.IntN(4))
	out.textOr(0.1, "false")
	out.empties(11)
	r.ending()
	r.put(boutsTable, from, "", on)
}

// ending writes end_reason and pain.
func (r *recorder) ending() {
	out := &r.out
	reason := "planned"
	switch u := out.rng.Float64(); {
	case u < 0.04:
		reason = "failure"
	case u < 0.05:
		reason = "pain"
	}
	out.textOr(0.1, reason)
	out.wholeOr(0.2, out.rng.IntN(5))
}
