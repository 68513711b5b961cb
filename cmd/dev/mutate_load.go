package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"os"
	"os/exec"
	"path/filepath"
)

// typedPackage is a package of this module with its syntax and types.
type typedPackage struct {
	path, name, dir string
	fset            *token.FileSet
	files           []*ast.File
	texts           [][]byte // what files were parsed from
	info            *types.Info
}

// listed is what the go command says about a package.
type listed struct {
	Dir, ImportPath, Name, Export string
	GoFiles                       []string
	DepOnly                       bool
}

// loadTyped parses and checks the packages that the patterns name; what they
// import comes from the go command's export data.
func loadTyped(ctx context.Context, patterns []string) ([]*typedPackage, error) {
	list := exec.CommandContext(ctx, "go", append([]string{"list", "-export", "-deps", "-json=Dir,ImportPath,Name,Export,GoFiles,DepOnly"}, patterns...)...)
	var stderr bytes.Buffer
	list.Stderr = &stderr
	text, err := list.Output()
	if err != nil {
		return nil, fmt.Errorf("go list: %w\n%s", err, stderr.String())
	}
	exports := map[string]string{}
	var named []listed
	for decoder := json.NewDecoder(bytes.NewReader(text)); ; {
		var l listed
		if err := decoder.Decode(&l); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return nil, err
		}
		exports[l.ImportPath] = l.Export
		if !l.DepOnly {
			named = append(named, l)
		}
	}
	fset := token.NewFileSet()
	lookup := func(path string) (io.ReadCloser, error) { return os.Open(exports[path]) }
	imports := importer.ForCompiler(fset, "gc", lookup)
	var out []*typedPackage
	for _, l := range named {
		p := &typedPackage{path: l.ImportPath, name: l.Name, dir: l.Dir, fset: fset, info: &types.Info{Defs: map[*ast.Ident]types.Object{}}}
		for _, file := range l.GoFiles {
			path := filepath.Join(l.Dir, file)
			text, err := os.ReadFile(path)
			if err != nil {
				return nil, err
			}
			syntax, err := parser.ParseFile(fset, path, text, 0)
			if err != nil {
				return nil, err
			}
			p.files, p.texts = append(p.files, syntax), append(p.texts, text)
		}
		config := types.Config{Importer: imports}
		if _, err := config.Check(l.ImportPath, fset, p.files, p.info); err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}
