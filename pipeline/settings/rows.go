package settings

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
)

// Table is one table of the database schema settings.
type Table struct {
	Name    string
	Columns []Column
	Rows    [][]any // string, int, bool, []int or []string, as the column's type says
}

// Column is a column of a Table with its DuckDB type and what it means.
type Column struct {
	Name  string
	Type  string
	About string
}

// Tables returns the settings as queries see them, in fixed order: a table of
// one row for each section that stands once (practice, return_rules, report,
// small_counts), and the lists sites, senders, ways and injury_types, in the
// order of the file or of the code table. What reaches no result (intake,
// engine) is left out.
func (p *Practice) Tables() []Table {
	var tables []Table
	for _, s := range sections {
		if s.table == "" {
			continue
		}
		switch s.repeat {
		case once:
			t := Table{Name: s.table, Rows: [][]any{nil}}
			for _, k := range s.keys {
				t.Columns = append(t.Columns, Column{k.name, k.kind.sql(), k.about})
				t.Rows[0] = append(t.Rows[0], plain(k.field(p)))
			}
			tables = append(tables, t)
		case listed, perCode:
			tables = append(tables, p.list(s.table)...)
		}
	}
	return tables
}

// list writes out the sections that repeat.
func (p *Practice) list(name string) []Table {
	code := Column{"code", "varchar", "The code."}
	label := Column{"label", "varchar", "The name as reports print it."}
	switch name {
	case "sites":
		sites := Table{Name: "sites", Columns: []Column{code, label}}
		senders := Table{Name: "senders", Columns: []Column{
			{"sender", "varchar", "The folder under inbox/."},
			{"site", "varchar", "A site for which it may send."},
		}}
		for _, s := range p.Sites {
			sites.Rows = append(sites.Rows, []any{s.Code, s.Label})
			for _, sender := range s.Senders {
				senders.Rows = append(senders.Rows, []any{sender, s.Code})
			}
		}
		return []Table{sites, senders}
	case "ways":
		ways := Table{Name: "ways", Columns: []Column{code, label}}
		for _, w := range p.Ways {
			ways.Rows = append(ways.Rows, []any{w.Code, w.Label})
		}
		return []Table{ways}
	default:
		types := Table{Name: "injury_types", Columns: []Column{
			code, label,
			{"region", "varchar", "upper_limb or lower_limb."},
			{"kind", "varchar", "tendon, muscle, ligament or post_operative."},
			{"landmark_days", "integer", "Days of care whose dose is set against what follows."},
			{"default_target_stage", "varchar", "The target of an episode that states none."},
			{"contact_gap_days", "integer", "Days without contact after which an episode counts as lost."},
			{"keeps_activity", "boolean", "Whether most people keep up their activity while injured."},
		}}
		for _, t := range p.InjuryTypes {
			types.Rows = append(types.Rows, []any{t.Code, t.Label, t.Region, t.Kind, t.LandmarkDays, t.DefaultTargetStage, t.ContactGapDays, t.KeepsActivity})
		}
		return []Table{types}
	}
}

// Digest is the SHA-256, in hex, of all settings that can reach a result.
// Comments, the order of keys, and the sections intake and engine do not change it.
func (p *Practice) Digest() string {
	text, err := json.Marshal(p.Tables())
	if err != nil {
		panic(fmt.Sprintf("settings: %v", err)) // texts, numbers and lists of them always marshal
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

func (k kind) sql() string {
	return [...]string{"varchar", "integer", "boolean", "varchar[]", "integer[]"}[k]
}

// plain returns the value a field points to.
func plain(field any) any {
	switch f := field.(type) {
	case *string:
		return *f
	case *int:
		return *f
	case *bool:
		return *f
	case *[]string:
		return *f
	case *[]int:
		return *f
	default:
		panic(fmt.Sprintf("settings: no kind for %T", field)) // keys.go has no other, as its test proves
	}
}
