package snapshot

import (
	"bytes"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

type leaf struct {
	n    int
	name string
}

type tree struct {
	a, b     *leaf
	plain    [3]float32
	all      []leaf
	near     []*leaf
	grey     []byte
	also     []byte // the same stretch as grey
	empty    []int
	none     []int
	whole    leaf
	inside   *leaf // &whole
	f        func() int
	mystery  any
	together struct{ p *leaf }
}

func made() *tree {
	t := &tree{a: &leaf{1, "made"}, grey: []byte{1, 2, 3}, whole: leaf{7, "within"}, mystery: "as it was made"}
	t.also, t.b, t.inside = t.grey, t.a, &t.whole
	t.f = func() int { return t.whole.n + int(t.grey[0]) }
	return t
}

func carried(t *testing.T, from, to any) {
	t.Helper()
	var b bytes.Buffer
	if err := Save(&b, from); err != nil {
		t.Fatal(err)
	}
	if err := Load(&b, to); err != nil {
		t.Fatal(err)
	}
}

func TestState(t *testing.T) {
	x, y := made(), made()
	x.a = &leaf{2, "another"} // no longer b
	x.all = []leaf{{3, "x"}, {4, ""}}
	x.near = []*leaf{x.a, x.b, nil}
	x.grey[0], x.plain[2], x.empty, x.whole.n, x.mystery = 9, 0.5, []int{}, 8, 3
	x.together.p = x.b
	carried(t, x, y)
	if diff := cmp.Diff(x, y, cmp.AllowUnexported(tree{}, leaf{}, struct{ p *leaf }{}), cmp.FilterPath(func(p cmp.Path) bool { return p.String() == "f" || p.String() == "mystery" }, cmp.Ignore())); diff != "" {
		t.Fatal(diff)
	}
	if y.mystery != "as it was made" {
		t.Errorf("an interface was read back as %v; it must stay as it was made", y.mystery)
	}
	if y.near[0] != y.a || y.near[1] != y.b || y.a == y.b || y.together.p != y.b || y.inside != &y.whole || &y.also[0] != &y.grey[0] {
		t.Error("what pointed to one thing points to two")
	}
	if y.empty == nil || y.none != nil {
		t.Error("nil and empty were taken for one another")
	}
	if got := y.f(); got != 8+9 {
		t.Errorf("a function sees %d, not what was put in", got)
	}
}

// Slices that were one stretch when they were made, and are two since.
func TestParted(t *testing.T) {
	x, y := made(), made()
	x.also = []byte{4, 5, 6}
	carried(t, x, y)
	if !bytes.Equal(y.grey, x.grey) || !bytes.Equal(y.also, x.also) {
		t.Errorf("%v %v, want %v %v", y.grey, y.also, x.grey, x.also)
	}
}

func TestDamagedState(t *testing.T) {
	var b bytes.Buffer
	if err := Save(&b, made()); err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		d := bytes.Clone(b.Bytes())
		if rapid.Bool().Draw(t, "cut") {
			d = d[:rapid.IntRange(0, len(d)-1).Draw(t, "length")]
		} else {
			d[rapid.IntRange(0, len(d)-1).Draw(t, "at")] ^= byte(1 << rapid.IntRange(0, 7).Draw(t, "bit"))
		}
		if Load(bytes.NewReader(d), made()) == nil {
			t.Fatal("taken for whole")
		}
	})
}

func TestNoState(t *testing.T) {
	err := Save(&bytes.Buffer{}, &struct{ m map[int]int }{})
	if err == nil || !strings.Contains(err.Error(), "map[int]int") {
		t.Errorf("have %v", err)
	}
}
