package lab

import (
	"encoding/json"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

const commented = `# The hall on the second floor.
cameras:
  ceiling:              # above the door
    frame: [960, 540]   # as recorded
    height: 2.70        # measured with the rod
    marks:
      # along the wall
      - {floor: [0.2, 0.1], pixel: [240.98, 453.72]}  # by the door
      - {floor: [0.2, 1.1], pixel: [248.17, 288.09]}
      # in the middle
      - floor: [1.2, 0.1]   # the cross
        pixel: [403.94, 466.73]
      - {floor: [1.2, 1.1], pixel: [409.5, 293.16]}

layouts:
  cluttered:
    camera: "ceiling"   # there is one
    room: [[0, 0], [3.2, 0],
           [3.2, 2.4], [0, 2.4]]
    obstacles:
      stool: {outline: [[2.2, 0.7], [2.45, 0.7], [2.45, 0.95]], height: 0.35}
robots:
  siskin:
    diameter: 0.32
    height: 0.09
    tools:
      brush: {width: 0.16, ahead: 0.03}
# the end
`

// change reads the commented set-up as a value, has f change it and writes it.
func change(t *testing.T, f func(m map[string]any)) string {
	t.Helper()
	v, ok := SetupValue([]byte(commented))
	if !ok {
		t.Fatal("the set-up is no YAML")
	}
	raw, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	var m map[string]any
	if err := json.Unmarshal(raw, &m); err != nil {
		t.Fatal(err)
	}
	f(m)
	raw, _ = json.Marshal(m)
	want, err := ParseJSON(raw)
	if err != nil {
		t.Fatal(err)
	}
	out, err := EditSetup([]byte(commented), want)
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}

func at2(m map[string]any, keys ...string) map[string]any {
	for _, k := range keys {
		m = m[k].(map[string]any)
	}
	return m
}

// TestEditKeepsComments guards that a change from the page touches its own
// place and leaves every comment and the order as they were.
func TestEditKeepsComments(t *testing.T) {
	cases := []struct {
		name     string
		f        func(m map[string]any)
		from, to []string // lines that go and come
	}{
		{"nothing", func(m map[string]any) {}, nil, nil},
		{"a number", func(m map[string]any) { at2(m, "cameras", "ceiling")["height"] = 2.71 },
			[]string{"    height: 2.70        # measured with the rod"}, []string{"    height: 2.71        # measured with the rod"}},
		{"a quoted word", func(m map[string]any) { at2(m, "layouts", "cluttered")["camera"] = "door" },
			[]string{`    camera: "ceiling"   # there is one`}, []string{`    camera: door   # there is one`}},
		{"a mark", func(m map[string]any) {
			at2(m, "cameras", "ceiling")["marks"].([]any)[0].(map[string]any)["pixel"] = []any{241.5, 453.0}
		}, []string{"      - {floor: [0.2, 0.1], pixel: [240.98, 453.72]}  # by the door"}, []string{"      - {floor: [0.2, 0.1], pixel: [241.5, 453]}  # by the door"}},
		{"a mark written over two lines", func(m map[string]any) {
			at2(m, "cameras", "ceiling")["marks"].([]any)[2].(map[string]any)["pixel"] = []any{404.0, 466.0}
		}, []string{"        pixel: [403.94, 466.73]"}, []string{"        pixel: [404, 466]"}},
		{"the first entry of such a mark less", func(m map[string]any) {
			delete(at2(m, "cameras", "ceiling")["marks"].([]any)[2].(map[string]any), "floor")
		}, []string{"      - floor: [1.2, 0.1]   # the cross", "        pixel: [403.94, 466.73]"}, []string{"      - {pixel: [403.94, 466.73]}"}},
		{"a mark less", func(m map[string]any) {
			c := at2(m, "cameras", "ceiling")
			c["marks"] = append([]any{}, c["marks"].([]any)[0], c["marks"].([]any)[2], c["marks"].([]any)[3])
		}, []string{"      - {floor: [0.2, 1.1], pixel: [248.17, 288.09]}"}, nil},
		{"a mark more", func(m map[string]any) {
			c := at2(m, "cameras", "ceiling")
			c["marks"] = append(c["marks"].([]any), map[string]any{"floor": []any{3, 1}, "pixel": []any{700.5, 300}})
		}, nil, []string{"      - {floor: [3, 1], pixel: [700.5, 300]}"}},
		{"an outline over two lines", func(m map[string]any) {
			at2(m, "layouts", "cluttered")["room"] = []any{[]any{0, 0}, []any{3, 0}, []any{3, 2}}
		}, []string{"    room: [[0, 0], [3.2, 0],", "           [3.2, 2.4], [0, 2.4]]"}, []string{"    room: [[0, 0], [3, 0], [3, 2]]"}},
		{"a new group", func(m map[string]any) {
			at2(m, "layouts", "cluttered")["overhead"] = map[string]any{"table": map[string]any{"outline": []any{[]any{1, 1}, []any{2, 1}, []any{2, 2}}, "height": 0.7}}
		}, nil, []string{"    overhead:", "      table: {height: 0.7, outline: [[1, 1], [2, 1], [2, 2]]}"}},
		{"a group less", func(m map[string]any) { delete(at2(m, "layouts", "cluttered"), "obstacles") },
			[]string{"    obstacles:", "      stool: {outline: [[2.2, 0.7], [2.45, 0.7], [2.45, 0.95]], height: 0.35}"}, nil},
		{"a second robot", func(m map[string]any) {
			at2(m, "robots")["rowan"] = map[string]any{"diameter": 0.3, "height": 0.1, "tools": map[string]any{"brush": map[string]any{"width": 0.2}}}
		}, nil, []string{"  rowan:", "    diameter: 0.3", "    height: 0.1", "    tools:", "      brush: {width: 0.2}"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			got := change(t, c.f)
			want := commented
			for _, l := range c.from {
				if !strings.Contains(want, l+"\n") {
					t.Fatalf("the test's own text lacks %q", l)
				}
				want = strings.Replace(want, l+"\n", "", 1)
			}
			rest := got
			for _, l := range c.to {
				if !strings.Contains(rest, l+"\n") {
					t.Errorf("the line %q is missing in:\n%s", l, got)
				}
				rest = strings.Replace(rest, l+"\n", "", 1)
			}
			if rest != want {
				t.Errorf("more than the change was touched:\n%s", got)
			}
		})
	}
}

// TestEditEmpty guards that a set-up can be begun with nothing, and with the
// line ends of another system.
func TestEditEmpty(t *testing.T) {
	v, _ := SetupValue([]byte(commented))
	out, err := EditSetup(nil, v)
	if err != nil {
		t.Fatal(err)
	}
	if got, ok := SetupValue(out); !ok || !same(got, v) {
		t.Errorf("written from nothing it says something else:\n%s", out)
	}
	crlf := strings.ReplaceAll(commented, "\n", "\r\n")
	out, err = EditSetup([]byte(crlf), v)
	if err != nil || string(out) != crlf {
		t.Errorf("with CRLF line ends an unchanged set-up came out changed (%v):\n%q", err, out)
	}
}

// TestEditRandom changes the set-up of testdata at random: whatever is meant
// must stand there afterwards, and every comment of a part that stayed too.
func TestEditRandom(t *testing.T) {
	real, err := os.ReadFile("../../../testdata/maple/lab.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, text := range []string{commented, string(real)} {
		rapid.Check(t, func(t *rapid.T) {
			v, ok := SetupValue([]byte(text))
			if !ok {
				t.Fatal("no YAML")
			}
			for range rapid.IntRange(1, 4).Draw(t, "changes") {
				v = mutate(t, v).(Map)
			}
			out, err := EditSetup([]byte(text), v)
			if err != nil {
				t.Fatalf("%v: wanted %s", err, flow(v))
			}
			for _, c := range []string{"# The hall on the second floor.", "# the end"} {
				if strings.Contains(text, c) && !strings.Contains(string(out), c) {
					t.Fatalf("the comment %q is gone from:\n%s", c, out)
				}
			}
		})
	}
}

// mutate changes one place of a value.
func mutate(t *rapid.T, v any) any {
	fresh := rapid.SampledFrom([]any{json.Number("3"), json.Number("-0.25"), "a word", "yes", "", "#no: comment", []any{json.Number("1"), json.Number("2")},
		Map{{"width", json.Number("0.2")}}, []any{Map{{"floor", []any{json.Number("1")}}}}})
	switch x := v.(type) {
	case Map:
		if len(x) == 0 {
			return Map{{"new", fresh.Draw(t, "fresh")}}
		}
		out := append(Map{}, x...)
		i := rapid.IntRange(0, len(x)-1).Draw(t, "key")
		switch rapid.IntRange(0, 9).Draw(t, "how") {
		case 0:
			if len(x) > 1 {
				return append(out[:i:i], out[i+1:]...)
			}
		case 1:
			key := rapid.SampledFrom([]string{"new", "new key", "no", "1", "é", "a: b"}).Draw(t, "name")
			if _, there := x.Get(key); !there {
				return append(out[:i:i], append(Map{{key, fresh.Draw(t, "fresh")}}, out[i:]...)...)
			}
		case 2:
			out[i].Value = fresh.Draw(t, "fresh")
			return out
		}
		out[i].Value = mutate(t, out[i].Value)
		return out
	case []any:
		if len(x) == 0 {
			return []any{fresh.Draw(t, "fresh")}
		}
		out := append([]any{}, x...)
		i := rapid.IntRange(0, len(x)-1).Draw(t, "item")
		switch rapid.IntRange(0, 3).Draw(t, "how") {
		case 0:
			if len(x) > 1 {
				return append(out[:i:i], out[i+1:]...)
			}
		case 1:
			return append(out[:i:i], append([]any{x[rapid.IntRange(0, len(x)-1).Draw(t, "which")]}, out[i:]...)...)
		}
		out[i] = mutate(t, out[i])
		return out
	}
	return fresh.Draw(t, "fresh")
}
