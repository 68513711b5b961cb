package main

import (
	"bytes"
	"fmt"
	"go/ast"
	"go/printer"
	"go/token"
	"go/types"
	"path/filepath"
	"slices"
	"strings"
)

// rewritten is a package in which every exported function passes its results
// through one multiplication per number, of which a variable turns one on.
type rewritten struct {
	mutants []string          // what mutant k+1 changes, such as "Fit: Coef"
	files   map[string][]byte // by absolute path
}

// hidden is put before the name of the function that the wrapper calls.
const hidden = "unmutated"

// rewritePackage wraps the exported functions and methods of a package whose
// names, with the result, contain only.
func rewritePackage(p *typedPackage, only string) *rewritten {
	r := &rewritten{files: map[string][]byte{}}
	for k, file := range p.files {
		path, text := p.fset.Position(file.Package).Filename, p.texts[k]
		var renames []int
		var wrappers bytes.Buffer
		for _, decl := range file.Decls {
			f, ok := decl.(*ast.FuncDecl)
			if !ok || !f.Name.IsExported() || f.Type.Results == nil || f.Body == nil {
				continue
			}
			if wrapper := r.wrap(p, f, only); wrapper != "" {
				renames = append(renames, p.fset.Position(f.Name.Pos()).Offset)
				wrappers.WriteString(wrapper)
			}
		}
		if len(renames) == 0 {
			continue
		}
		slices.Sort(renames)
		var out bytes.Buffer
		at := 0
		for _, offset := range renames {
			out.Write(text[at:offset])
			out.WriteString(hidden)
			at = offset
		}
		out.Write(text[at:])
		out.Write(wrappers.Bytes())
		r.files[path] = out.Bytes()
	}
	r.files[filepath.Join(p.dir, "mutant_switch.go")] = []byte(fmt.Sprintf(`package %s

import (
	"os"
	"strconv"
	"sync"
)

var mutantMarkFile = os.Getenv(%q)

var mutantOn = func() int { n, _ := strconv.Atoi(os.Getenv(%q)); return n }()

// mutantNumber is one per cent off, and leaves a mark that it was. Zero stays
// zero, unless the tests are run again because no other value was seen.
func mutantNumber[F ~float32 | ~float64](x F) F {
	mark := mutantMarkFile
	if x == 0 {
		if mark == "" {
			return 0.01
		}
		return 0
	}
	if mark != "" {
		mutantMark.Do(func() { _ = os.WriteFile(mark, nil, 0o600) })
	}
	return x * 1.01
}

var mutantMark sync.Once

func mutantSlice[S ~[]E, E any](s S) S { return append(S(nil), s...) }

func mutantMap[M ~map[K]V, K comparable, V any](m M) M {
	out := make(M, len(m))
	for k, v := range m {
		out[k] = v
	}
	return out
}
`, p.name, markVariable, mutantVariable))
	return r
}

// wrap writes a function of the same name and type that calls the renamed one.
// It returns nothing when the results hold no number.
func (r *rewritten) wrap(p *typedPackage, f *ast.FuncDecl, only string) string {
	object, ok := p.info.Defs[f.Name].(*types.Func)
	if !ok {
		return ""
	}
	signature, ok := object.Type().(*types.Signature)
	if !ok {
		return ""
	}
	name := f.Name.Name
	receiver, call := "", hidden+name
	if f.Recv != nil {
		if !exportedReceiver(f.Recv.List[0].Type) {
			return ""
		}
		receiver = "(mutantOf " + source(p.fset, f.Recv.List[0].Type) + ") "
		name = strings.TrimLeft(source(p.fset, f.Recv.List[0].Type), "*") + "." + name
		call = "mutantOf." + hidden + f.Name.Name
	}
	var body strings.Builder
	variables := make([]string, signature.Results().Len())
	for k := range variables {
		variables[k] = fmt.Sprintf("mutantResult%d", k)
		about := name
		if len(variables) > 1 {
			about = fmt.Sprintf("%s, result %d", name, k+1)
		}
		w := walker{r: r, only: only, about: about + ":", body: &body}
		w.walk(signature.Results().At(k).Type(), variables[k], nil)
	}
	if body.Len() == 0 {
		return ""
	}
	parameters, arguments := renamed(p.fset, f.Type.Params)
	return fmt.Sprintf("\nfunc %s%s%s(%s) (%s) {\n%s := %s(%s)\n%sreturn %s\n}\n",
		receiver, f.Name.Name, typeParameters(p.fset, f.Type.TypeParams), parameters, resultTypes(p.fset, f.Type.Results),
		strings.Join(variables, ", "), call, arguments, body.String(), strings.Join(variables, ", "))
}

func exportedReceiver(e ast.Expr) bool {
	switch e := e.(type) {
	case *ast.StarExpr:
		return exportedReceiver(e.X)
	case *ast.IndexExpr:
		return exportedReceiver(e.X)
	case *ast.Ident:
		return e.IsExported()
	}
	return false
}

// walker writes the code that changes one number of a result at a time.
type walker struct {
	r     *rewritten
	only  string
	about string
	body  *strings.Builder
}

// walk goes down into a type; expression reaches the value, and path names it.
func (w walker) walk(t types.Type, expression string, path []string) {
	if len(path) > 6 {
		return
	}
	depth := strings.Count(expression, "[")
	switch u := types.Unalias(t).Underlying().(type) {
	case *types.Basic:
		if u.Info()&types.IsFloat != 0 {
			w.leaf(path, expression+" = mutantNumber("+expression+")")
		}
	case *types.Slice:
		index := fmt.Sprintf("mutantIndex%d", depth)
		w.inside(u.Elem(), expression+"["+index+"]", path,
			fmt.Sprintf("%s = mutantSlice(%s)\nfor %s := range %s {\n", expression, expression, index, expression), "}\n")
	case *types.Array:
		index := fmt.Sprintf("mutantIndex%d", depth)
		w.inside(u.Elem(), expression+"["+index+"]", path, fmt.Sprintf("for %s := range %s {\n", index, expression), "}\n")
	case *types.Map:
		key, value := fmt.Sprintf("mutantKey%d", depth), fmt.Sprintf("mutantValue%d", depth)
		w.inside(u.Elem(), value, path,
			fmt.Sprintf("%s = mutantMap(%s)\nfor %s, %s := range %s {\n", expression, expression, key, value, expression),
			fmt.Sprintf("%s[%s] = %s\n}\n", expression, key, value))
	case *types.Pointer:
		if _, ok := u.Elem().Underlying().(*types.Struct); ok {
			w.inside(u.Elem(), expression, path,
				fmt.Sprintf("if %s != nil {\nmutantCopy := *%s\n%s = &mutantCopy\n", expression, expression, expression), "}\n")
		}
	case *types.Struct:
		for k := range u.NumFields() {
			if field := u.Field(k); field.Exported() {
				w.walk(field.Type(), expression+"."+field.Name(), append(slices.Clone(path), field.Name()))
			}
		}
	}
}

// inside wraps the code of each number further down.
func (w walker) inside(t types.Type, expression string, path []string, before, after string) {
	var inner strings.Builder
	nested := w
	nested.body = &inner
	nested.walk(t, expression, path)
	if inner.Len() > 0 {
		w.body.WriteString(before + inner.String() + after)
	}
}

func (w walker) leaf(path []string, change string) {
	name := strings.TrimSuffix(w.about+" "+strings.Join(path, "."), " ")
	name = strings.TrimSuffix(name, ":")
	if !strings.Contains(name, w.only) {
		return
	}
	w.r.mutants = append(w.r.mutants, name)
	fmt.Fprintf(w.body, "if mutantOn == %d {\n%s\n}\n", len(w.r.mutants), change)
}

func source(fset *token.FileSet, node any) string {
	var out bytes.Buffer
	if err := printer.Fprint(&out, fset, node); err != nil {
		return ""
	}
	return out.String()
}

// renamed gives every parameter a name, and the arguments that pass it on.
func renamed(fset *token.FileSet, list *ast.FieldList) (parameters, arguments string) {
	var ps, as []string
	for _, field := range list.List {
		kind := source(fset, field.Type)
		for range max(1, len(field.Names)) {
			name := fmt.Sprintf("mutantArgument%d", len(ps))
			ps = append(ps, name+" "+kind)
			if strings.HasPrefix(kind, "...") {
				name += "..."
			}
			as = append(as, name)
		}
	}
	return strings.Join(ps, ", "), strings.Join(as, ", ")
}

func resultTypes(fset *token.FileSet, list *ast.FieldList) string {
	var out []string
	for _, field := range list.List {
		for range max(1, len(field.Names)) {
			out = append(out, source(fset, field.Type))
		}
	}
	return strings.Join(out, ", ")
}

func typeParameters(fset *token.FileSet, list *ast.FieldList) string {
	if list == nil {
		return ""
	}
	var out []string
	for _, field := range list.List {
		for _, name := range field.Names {
			out = append(out, name.Name+" "+source(fset, field.Type))
		}
	}
	return "[" + strings.Join(out, ", ") + "]"
}
