package intake

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"evenlimb/pipeline/settings"
)

// Trouble is a file or folder of the inbox that was left where it is, and why.
type Trouble struct {
	Path  string // below inbox/
	Code  string // such as unknown_sender
	Words string // a sentence with the next step
}

// dropped is a file found in the inbox.
type dropped struct {
	sender string
	path   string // below inbox/, with slashes, the sender first
	state  fs.FileInfo
}

// scan lists the files in the inbox, in byte order of their paths. It follows no
// link and passes over hidden files, locks and files still being transferred.
func scan(inbox *os.Root, practice *settings.Practice) (files []dropped, trouble []Trouble, err error) {
	senders := practice.Senders()
	err = fs.WalkDir(inbox.FS(), ".", func(name string, e fs.DirEntry, err error) error {
		switch {
		case name == ".":
			return err
		case err != nil:
			trouble = append(trouble, Trouble{name, "not_readable", "it cannot be read (" + reason(err) + "); let this program read it"})
			if e != nil && e.IsDir() {
				return fs.SkipDir
			}
			return nil
		case passedOver(e.Name()):
			if e.IsDir() {
				return fs.SkipDir
			}
			return nil
		}
		sender, _, inside := strings.Cut(name, "/")
		switch {
		case checkText(e.Name(), longestName) != nil || strings.ContainsAny(e.Name(), "\n\t"):
			trouble = append(trouble, Trouble{strconv.QuoteToASCII(name), "odd_name", "its name has letters in it that cannot be shown, or is too long; give it another name"})
			if e.IsDir() {
				return fs.SkipDir
			}
		case !inside && !e.IsDir():
			trouble = append(trouble, Trouble{name, "no_sender", "it lies in no sender's folder; move it into the folder of who sent it, such as inbox/" + senders[0]})
		case !inside && !slices.Contains(senders, sender):
			words := "no site of the settings names this sender; add it to the senders of a site, or move the files"
			if near := settings.Near(sender, senders); near != "" {
				words += " (is it " + near + "?)"
			}
			trouble = append(trouble, Trouble{name, "unknown_sender", words})
			return fs.SkipDir
		case e.IsDir():
		case e.Type()&fs.ModeSymlink != 0:
			trouble = append(trouble, Trouble{name, "link", "it is a link, and links are not followed; put the file itself there"})
		case !e.Type().IsRegular():
			trouble = append(trouble, Trouble{name, "not_a_file", "it is no ordinary file; put a file in its place or take it away"})
		default:
			state, err := e.Info()
			if err != nil {
				return nil //nolint:nilerr // it was taken away between listing and looking
			}
			files = append(files, dropped{sender, name, state})
		}
		return nil
	})
	if err != nil {
		return nil, nil, fmt.Errorf("read the inbox: %w", err)
	}
	slices.SortFunc(files, func(a, b dropped) int { return cmp.Compare(a.path, b.path) })
	return files, trouble, nil
}

// LeftInInbox returns what a run would leave in the inbox of a practice folder.
func LeftInInbox(dir string, practice *settings.Practice) (trouble []Trouble, err error) {
	inbox, err := openInbox(dir)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, inbox.Close()) }()
	_, trouble, err = scan(inbox, practice)
	return trouble, err
}

func openInbox(dir string) (*os.Root, error) {
	inbox, err := os.OpenRoot(filepath.Join(dir, inboxFolder))
	if err != nil {
		return nil, fmt.Errorf("the inbox cannot be read (%s); make the folder inbox in the practice folder and let this program read it", reason(err))
	}
	return inbox, nil
}

// longestName is how many bytes the name of a file may have.
const longestName = 200

// passedOver says whether a name is that of a hidden file, a lock, or a file
// that another program has not finished.
func passedOver(name string) bool {
	lower := strings.ToLower(name)
	if strings.HasPrefix(name, ".") || strings.HasPrefix(name, "~") || strings.HasSuffix(name, "~") ||
		(strings.HasPrefix(name, "#") && strings.HasSuffix(name, "#")) {
		return true
	}
	switch path.Ext(lower) {
	case ".tmp", ".temp", ".part", ".partial", ".filepart", ".crdownload", ".download", ".swp", ".swx", ".lock", ".lck":
		return true
	}
	return lower == "thumbs.db" || lower == "desktop.ini"
}

// reason is the part of a file error that people need.
func reason(err error) string {
	var of *fs.PathError
	if errors.As(err, &of) {
		return of.Err.Error()
	}
	return err.Error()
}
