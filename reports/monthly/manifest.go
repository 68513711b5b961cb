package monthly

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"maps"
	"slices"

	"evenlimb/pipeline/disclosure"
)

// The manifest says what the report was made from and what it holds.
type manifestFile struct {
	Report   string         `json:"report"`
	Practice string         `json:"practice"`
	MadeUp   bool           `json:"made_up"`
	Month    string         `json:"month"`
	Period   manifestPeriod `json:"period"`
	Audience string         `json:"audience"`
	Program  string         `json:"program"`
	Inputs   manifestInputs `json:"inputs"`
	Figures  manifestCounts `json:"figures"`
	Files    []manifestItem `json:"files"`
}

type manifestPeriod struct {
	From string `json:"from"`
	To   string `json:"to"`
}

type manifestInputs struct {
	Batch       int              `json:"batch"`
	ReceivedOn  string           `json:"received_on"`
	Settings    string           `json:"settings_sha256"`
	FigureInput string           `json:"figures_inputs_sha256"` // over id and inputs hash of every figure shown
	SmallCounts smallCounts      `json:"small_counts"`
	Senders     []manifestSender `json:"senders"`
	Sites       []manifestSite   `json:"sites"`
}

type smallCounts struct {
	Circulating int  `json:"circulating"`
	Site        int  `json:"site"`
	Curve       int  `json:"curve"`
	Inside      int  `json:"inside"`
	Strict      bool `json:"strict"`
}

type manifestSender struct {
	Sender      string `json:"sender"`
	Files       int    `json:"files"`
	Read        int    `json:"rows_read"`
	Accepted    int    `json:"accepted"`
	Duplicates  int    `json:"duplicates"`
	Corrections int    `json:"corrections"`
	Withdrawals int    `json:"withdrawals"`
	Quarantined int    `json:"quarantined"`
	Waiting     int    `json:"waiting"`
	Skipped     int    `json:"passed_over"`
	Gone        int    `json:"gone"`

	Forms []manifestForm `json:"forms"`
}

type manifestForm struct {
	Form  string `json:"form"`
	Files int    `json:"files"`
}

type manifestSite struct {
	Site        string `json:"site"`
	DataThrough string `json:"data_through,omitempty"`
}

type manifestCounts struct {
	Shown    int `json:"shown"`
	Hidden   int `json:"hidden"`
	Withheld int `json:"withheld"`
}

type manifestItem struct {
	Name   string `json:"name"`
	Bytes  int    `json:"bytes"`
	SHA256 string `json:"sha256"`
}

// manifest describes the report; files are all others of it.
func manifest(r *disclosure.Released, files map[string][]byte) ([]byte, error) {
	c := r.Context()
	f := r.Floors()
	m := manifestFile{
		Report: "monthly", Practice: c.Practice, MadeUp: c.MadeUp,
		Month:    c.Month.Format("2006-01"),
		Period:   manifestPeriod{isoDate(c.PeriodFrom), isoDate(c.PeriodTo)},
		Audience: r.Audience().String(),
		Program:  c.Program,
		Inputs: manifestInputs{
			Batch: c.AsOfBatch, ReceivedOn: isoDate(c.ReceivedOn), Settings: c.SettingsHash,
			FigureInput: inputsDigest(r),
			SmallCounts: smallCounts{f.Circulating, f.Site, f.Curve, f.Inside, f.Strict},
			Senders:     []manifestSender{},
			Sites:       []manifestSite{},
		},
		Files: []manifestItem{},
	}
	m.Figures.Shown, m.Figures.Hidden, m.Figures.Withheld = r.Counts()
	for _, s := range c.Files {
		sender := manifestSender{s.Sender, s.Files, s.Read, s.Accepted, s.Duplicates, s.Corrections, s.Withdrawals, s.Quarantined, s.Waiting, s.Skipped, s.Gone, nil}
		for _, form := range s.Forms {
			sender.Forms = append(sender.Forms, manifestForm(form))
		}
		m.Inputs.Senders = append(m.Inputs.Senders, sender)
	}
	for _, s := range c.Sites {
		m.Inputs.Sites = append(m.Inputs.Sites, manifestSite{s.Code, isoDate(s.DataThrough)})
	}
	for _, name := range slices.Sorted(maps.Keys(files)) {
		sum := sha256.Sum256(files[name])
		m.Files = append(m.Files, manifestItem{name, len(files[name]), hex.EncodeToString(sum[:])})
	}
	out, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return nil, err
	}
	return append(out, '\n'), nil
}

func inputsDigest(r *disclosure.Released) string {
	h := sha256.New()
	for _, f := range r.Figures() {
		if f.InputsHash != "" {
			h.Write([]byte(f.ID + "\x00" + f.InputsHash + "\x00"))
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}
