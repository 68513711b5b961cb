package sides

import (
	"fmt"
	"path/filepath"
	"slices"

	"evenlimb/cmd/internal/folder"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// notice stands beside the workbooks.
const notice = Mark + `

The files in this folder hold single persons' measurements under their pseudonyms, with dates and sites.
They are personal health data: they stay inside the practice, with those who treat these persons, and are deleted when they have been read.
They say what was measured and how surely. They foretell nothing and prescribe nothing.
`

// Written is one workbook and how many rows of visits it holds.
type Written struct {
	Site string `json:"site"`
	File string `json:"file"`
	Rows int    `json:"rows"`
}

// Write writes a workbook for each site into person_level/sides/batch-N/ and says
// what was written. One course of care asked for by name has a workbook of its
// own.
func Write(dir folder.Dir, practice *settings.Practice, batch warehouse.Batch, courses []Course, choice Choice) (string, []Written, error) {
	target := filepath.Join(dir.PersonLevel(), "sides", fmt.Sprintf("batch-%d", batch.Number))
	files := map[string][]byte{"READ-FIRST.txt": []byte(notice)}
	var list []Written
	for _, s := range practice.Sites {
		own := slices.DeleteFunc(slices.Clone(courses), func(c Course) bool { return c.Site != s.Code })
		if len(own) == 0 {
			continue
		}
		name := s.Code + ".xlsx"
		if choice.Episode != "" {
			name = fmt.Sprintf("%s_episode-%d.xlsx", s.Code, own[0].EpisodeKey) // what a sender calls it may be no name for a file
		}
		data, err := Workbook(own, practice, batch)
		if err != nil {
			return "", nil, err
		}
		files[name] = data
		rows := 0
		for _, c := range own {
			rows += len(c.Visits) + len(c.Limbs)
		}
		list = append(list, Written{Site: s.Code, File: filepath.Join(target, name), Rows: rows})
	}
	if len(list) == 0 {
		return "", nil, nil
	}
	staged, err := folder.Stage(target, files)
	if err != nil {
		return "", nil, err
	}
	return target, list, staged.Commit()
}
