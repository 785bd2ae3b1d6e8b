// Mutants changes the code, one place at a time, and tells whether a test notices.
//
//	go run ./cmd/internal/mutants                         the changes of the table in named.go: each must be noticed
//	go run ./cmd/internal/mutants -n 100 -seed 7 ./geom ./coverage/conduct
//
// With -n, places are drawn at random from the packages named: an operator of a
// comparison or of a sum turned round, a condition negated, a number 10 % larger, a
// statement left out. What survives is printed; some of it changes nothing that a
// user could see, and each is to be read. The tree is not touched: the changed file
// is laid over it (go test -overlay).
package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/printer"
	"go/token"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// A mutant is one file with one change in it.
type mutant struct {
	what string // the place and the change
	file string
	text string
	test []string // arguments of go test
}

func main() {
	n := flag.Int("n", 0, "how many places to draw from the packages named; 0: the table")
	seed := flag.Uint64("seed", uint64(time.Now().UnixNano()), "seed of the places that are drawn")
	limit := flag.Duration("limit", 10*time.Minute, "longer than this a test may not take: it counts as noticed")
	flag.Parse()
	if err := run(*n, *seed, *limit, flag.Args()); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(n int, seed uint64, limit time.Duration, dirs []string) error {
	var all []mutant
	if n == 0 {
		for _, m := range named {
			text, err := os.ReadFile(m.file)
			if err != nil {
				return err
			}
			if c := strings.Count(string(text), m.old); c != 1 {
				return fmt.Errorf("%s: %q stands %d times; it must stand once", m.file, m.old, c)
			}
			all = append(all, mutant{what: m.what, file: m.file, text: strings.Replace(string(text), m.old, m.new, 1), test: strings.Fields(m.test)})
		}
	} else {
		fmt.Println("seed", seed)
		rng := rand.New(rand.NewPCG(seed, 0))
		places, err := placesIn(dirs)
		if err != nil {
			return err
		}
		rng.Shuffle(len(places), func(i, j int) { places[i], places[j] = places[j], places[i] })
		for _, p := range places[:min(n, len(places))] {
			m, err := p.mutant()
			if err != nil {
				return err
			}
			all = append(all, m)
		}
	}
	lived, built := 0, 0
	for _, m := range all {
		noticed, sound, err := try(m, limit)
		if err != nil {
			return fmt.Errorf("%s: %w", m.what, err)
		}
		if !sound {
			continue // it does not compile: the compiler noticed
		}
		built++
		if !noticed {
			lived++
			fmt.Println("LIVES  ", m.what)
		} else {
			fmt.Println("noticed", m.what)
		}
	}
	fmt.Printf("%d of %d noticed\n", built-lived, built)
	if n == 0 && (lived > 0 || built < len(all)) {
		return errors.New("a change that a test must notice was not noticed, or does not compile")
	}
	return nil
}

// try runs the tests on a mutant. Sound: it compiles.
func try(m mutant, limit time.Duration) (noticed, sound bool, err error) {
	dir, err := os.MkdirTemp("", "mutant")
	if err != nil {
		return false, false, err
	}
	defer os.RemoveAll(dir)
	file, err := filepath.Abs(m.file)
	if err != nil {
		return false, false, err
	}
	changed, over := filepath.Join(dir, "changed.go"), filepath.Join(dir, "overlay.json")
	list, err := json.Marshal(map[string]map[string]string{"Replace": {file: changed}})
	if err == nil {
		err = os.WriteFile(changed, []byte(m.text), 0o600)
	}
	if err == nil {
		err = os.WriteFile(over, list, 0o600)
	}
	if err != nil {
		return false, false, err
	}
	if out, err := goTool(limit, "build", "-overlay", over, "./"+filepath.Dir(m.file)); err != nil {
		if errors.Is(err, context.DeadlineExceeded) {
			return false, false, fmt.Errorf("%w\n%s", err, out)
		}
		return false, false, nil
	}
	_, err = goTool(limit, append([]string{"test", "-overlay", over, "-vet=off", "-failfast", "-timeout", limit.String()}, m.test...)...)
	return err != nil, true, nil
}

func goTool(limit time.Duration, args ...string) ([]byte, error) {
	ctx, stop := context.WithTimeout(context.Background(), limit+time.Minute)
	defer stop()
	c := exec.CommandContext(ctx, "go", args...)
	// The daily tests must notice: cmd/test.sh --long sets SWATHE_LONG for its own.
	c.Env = append(os.Environ(), "CGO_ENABLED=0", "SWATHE_LONG=")
	out, err := c.CombinedOutput()
	if ctx.Err() != nil {
		err = ctx.Err()
	}
	return out, err
}

// A place in the code that can be changed: change alters the tree of its file.
type place struct {
	file  string
	at    int // which place of the file, in the order of the tree
	where string
}

// placesIn lists the places of the packages' code without tests.
func placesIn(dirs []string) ([]place, error) {
	var out []place
	for _, dir := range dirs {
		files, err := filepath.Glob(filepath.Join(dir, "*.go"))
		if err != nil {
			return nil, err
		}
		for _, f := range files {
			if strings.HasSuffix(f, "_test.go") {
				continue
			}
			set := token.NewFileSet()
			tree, err := parser.ParseFile(set, f, nil, 0)
			if err != nil {
				return nil, err
			}
			for i, c := range changes(tree) {
				out = append(out, place{f, i, fmt.Sprintf("%s: %s", set.Position(c.pos), c.what)})
			}
		}
	}
	return out, nil
}

func (p place) mutant() (mutant, error) {
	set := token.NewFileSet()
	tree, err := parser.ParseFile(set, p.file, nil, parser.ParseComments)
	if err != nil {
		return mutant{}, err
	}
	changes(tree)[p.at].do()
	var b strings.Builder
	if err := printer.Fprint(&b, set, tree); err != nil {
		return mutant{}, err
	}
	return mutant{what: p.where, file: p.file, text: b.String(), test: []string{"./" + filepath.Dir(p.file) + "/..."}}, nil
}

// turned is what an operator becomes.
var turned = map[token.Token]token.Token{
	token.LSS: token.LEQ, token.LEQ: token.LSS, token.GTR: token.GEQ, token.GEQ: token.GTR, token.EQL: token.NEQ, token.NEQ: token.EQL,
	token.ADD: token.SUB, token.SUB: token.ADD, token.MUL: token.QUO, token.QUO: token.MUL, token.LAND: token.LOR, token.LOR: token.LAND,
}

type change struct {
	pos  token.Pos
	what string
	do   func()
}

// changes lists all that could be changed in a file's functions.
func changes(tree *ast.File) []change {
	var out []change
	ast.Inspect(tree, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.GenDecl:
			return n.Tok == token.CONST || n.Tok == token.VAR
		case *ast.BinaryExpr:
			if to, ok := turned[n.Op]; ok {
				out = append(out, change{n.OpPos, fmt.Sprintf("%s becomes %s", n.Op, to), func() { n.Op = to }})
			}
		case *ast.IfStmt:
			out = append(out, change{n.Pos(), "the condition is negated", func() { n.Cond = &ast.UnaryExpr{Op: token.NOT, X: &ast.ParenExpr{X: n.Cond}} }})
		case *ast.BasicLit:
			if v, err := strconv.ParseFloat(n.Value, 64); n.Kind == token.FLOAT && err == nil && v != 0 {
				to := strconv.FormatFloat(1.1*v, 'g', -1, 64)
				out = append(out, change{n.Pos(), n.Value + " becomes " + to, func() { n.Value = to }})
			}
		case *ast.BlockStmt:
			for i, s := range n.List {
				switch s := s.(type) {
				case *ast.ExprStmt, *ast.IncDecStmt:
					out = append(out, change{s.Pos(), "the statement is left out", func() { n.List[i] = &ast.EmptyStmt{Implicit: false} }})
				case *ast.AssignStmt:
					if s.Tok != token.DEFINE {
						out = append(out, change{s.Pos(), "the assignment is left out", func() { n.List[i] = &ast.EmptyStmt{Implicit: false} }})
					}
				}
			}
		}
		return true
	})
	return out
}
