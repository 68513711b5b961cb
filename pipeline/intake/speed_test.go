package intake

import (
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"
)

// BenchmarkFirstNight takes in the first night of a practice of the default
// size: 2,500 episodes, 40,000 sessions, 200,000 bouts, 100,000 measurements.
func BenchmarkFirstNight(b *testing.B) {
	files := defaultSize()
	b.ReportAllocs()
	for b.Loop() {
		b.StopTimer()
		f := newFolder(b)
		for path, text := range files {
			f.write(path, text)
		}
		b.StartTimer()
		report := f.take(january(5))
		for _, one := range report.Files {
			if one.Counts.Read == 0 || one.Counts.Accepted != one.Counts.Read {
				b.Fatalf("%s: %+v %+v", one.Path, one.Counts, one.Problem)
			}
		}
	}
}

// BenchmarkLayoutNight takes in the same rows under other headings, with
// semicolons and decimal commas, by a layout.
func BenchmarkLayoutNight(b *testing.B) {
	files := map[string]string{}
	layout := "sender = \"north\"\nversion = \"1\"\n[cells]\ndecimal = \",\"\n"
	for path, text := range defaultSize() {
		headings, rows, _ := strings.Cut(text, "\n")
		layout += "[[table]]\nname = \"" + strings.TrimSuffix(filepath.Base(path), ".csv") + "\"\n"
		var other []string
		for h := range strings.SplitSeq(headings, ",") {
			other = append(other, "The "+h)
			layout += "columns." + h + ".heading = \"the " + h + "\"\n"
		}
		files[path] = strings.Join(other, ";") + "\n" + strings.NewReplacer(",", ";", ".", ",").Replace(rows)
	}
	files["layouts/north.toml"] = layout
	b.ReportAllocs()
	for b.Loop() {
		b.StopTimer()
		f := newFolder(b)
		for path, text := range files {
			f.write(path, text)
		}
		b.StartTimer()
		for _, one := range f.take(january(5)).Files {
			if one.Counts.Read == 0 || one.Counts.Accepted != one.Counts.Read {
				b.Fatalf("%s: %+v %+v", one.Path, one.Counts, one.Problem)
			}
		}
	}
}

func defaultSize() map[string]string {
	rng := rand.New(rand.NewPCG(1, 2))
	table := func(headings string, rows int, row func(i int) string) string {
		var b strings.Builder
		b.WriteString(headings + "\n")
		for i := range rows {
			b.WriteString(row(i) + "\n")
		}
		return b.String()
	}
	date := func() string { return fmt.Sprintf("2025-%02d-%02d", 1+rng.IntN(12), 1+rng.IntN(28)) }
	return map[string]string{
		"inbox/north/episodes.csv": table("episode_id,person_id,site,injury_type,side,start_date,severity", 2_500, func(i int) string {
			return fmt.Sprintf("e%05d,p%04d,north,calf_strain,left,%s,mild", i, i/2, date())
		}),
		"inbox/north/sessions.csv": table("session_id,episode_id,session_date,attendance,setting,supervised,clinician_id,minutes,pain_before,pain_after,effort,symptoms_asked,stopped_early", 40_000, func(i int) string {
			return fmt.Sprintf("s%06d,e%05d,%s,attended,clinic,true,c%02d,%d,%d,%d,%d,true,false", i, i%2500, date(), rng.IntN(20), 20+rng.IntN(40), rng.IntN(10), rng.IntN(10), rng.IntN(10))
		}),
		"inbox/north/bouts.csv": table("session_id,bout_no,exercise,level,movement_range,limb_use,side,sets,reps,reps_by_set,seconds_per_rep,load_kg,load_basis,load_percent_1rm,rest_seconds,reps_in_reserve,cuff_inflated,mode,occlusion_pressure_mmhg,occlusion_position,occlusion_method,occlusion_measured_on,applied_pressure_mmhg,pressure_percent,cuff_width_cm,inflated_minutes,end_reason,pain", 200_000, func(i int) string {
			full, percent := 120+rng.IntN(100), 40+rng.IntN(40)
			return fmt.Sprintf("s%06d,%d,knee_extension,%d,full,one,left,4,75,30/15/15/15,2.%d,%d.5,external,%d,30,2,true,continuous,%d,seated,doppler,%s,%d,%d.%d,11,4.%d,planned,%d",
				i/5, 1+i%5, rng.IntN(4), rng.IntN(9), 10+rng.IntN(50), 20+rng.IntN(20), full, date(), full*percent/100, percent, rng.IntN(9), rng.IntN(9), rng.IntN(10))
		}),
		"inbox/north/measurements.csv": table("measurement_id,episode_id,measured_on,measure,side,value,unit,trial,rater_id", 100_000, func(i int) string {
			return fmt.Sprintf("m%06d,e%05d,%s,girth_calf,left,%d.%d,cm,1,r%02d", i, i%2500, date(), 30+rng.IntN(10), rng.IntN(9), rng.IntN(20))
		}),
	}
}
