package lab

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"

	"swathe/geom"
	"swathe/track"
)

// solved keeps a camera's solution once it is known.
type solved struct {
	mu       sync.Mutex
	solution *geom.Solution
}

// BoardSolver finds a lens from pictures of a chessboard. It needs pixels, so it
// is the eye's work; a lab that has no board needs none.
type BoardSolver func(spec geom.CameraSpec) (*track.BoardReply, error)

// solveKnown solves the cameras that need no pictures, and turns a solver's
// refusal into a problem of lab.yaml at the camera's marks.
func (l *Lab) solveKnown(ctx context.Context, problems *Problems) {
	for _, name := range l.CameraNames {
		if ctx.Err() != nil {
			return
		}
		c := l.Cameras[name]
		if c.Spec.Board != nil {
			continue
		}
		s, err := geom.SolveCamera(c.Spec)
		if err != nil {
			problems.add(c.refusal(err))
			continue
		}
		c.place(s)
		c.solution = s
	}
}

// place puts file and line before what is said of a mark that does not fit.
func (c *Camera) place(s *geom.Solution) {
	for _, m := range s.Misfits {
		if i := slices.Index(s.Warnings, m.Says); i >= 0 && m.Mark < len(c.marks) {
			s.Warnings[i] = c.marks[m.Mark].Where() + ": " + m.Says
		}
	}
}

// refusal is a solver's error at the camera's place in lab.yaml.
func (c *Camera) refusal(err error) Problem {
	p := c.where
	var ce *geom.CameraError
	if errors.As(err, &ce) {
		if len(ce.Marks) > 0 && ce.Marks[0] < len(c.marks) {
			p = c.marks[ce.Marks[0]]
		}
		p.Message = fmt.Sprintf("camera %s: %s.", c.Spec.Name, strings.TrimSuffix(ce.Reason, "."))
	} else {
		p.Message = fmt.Sprintf("camera %s can't be solved: %v.", c.Spec.Name, err)
	}
	return p
}

// Solve returns the solution of a camera; board is asked for the lens if the
// camera has a chessboard, and may be nil otherwise.
func (l *Lab) Solve(name string, board BoardSolver) (*geom.Solution, error) {
	c := l.Cameras[name]
	if c == nil {
		return nil, fmt.Errorf("there is no camera %q in %s.%s", name, SetupFile, DidYouMean(name, l.CameraNames))
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.solution != nil {
		return c.solution, nil
	}
	spec := c.Spec
	var found *track.BoardReply
	if spec.Board != nil {
		if board == nil {
			return nil, fmt.Errorf("camera %s: swathe-eye, which reads its board pictures, was not found", name)
		}
		var err error
		found, err = board(spec)
		if err != nil {
			p := c.where
			p.Message = fmt.Sprintf("camera %s: board: %v", name, sentence(err))
			return nil, &Problems{List: []Problem{p}}
		}
		spec.Lens = &found.Lens
	}
	s, err := geom.SolveCamera(spec)
	if err != nil {
		return nil, &Problems{List: []Problem{c.refusal(err)}}
	}
	c.place(s)
	if found != nil {
		creditBoard(s, found)
	}
	c.solution = s
	return s, nil
}

// creditBoard says that the lens came from the board: to the solver of the
// marks it was given.
func creditBoard(s *geom.Solution, found *track.BoardReply) {
	s.Solved = append(s.Solved, found.Describe())
	s.NotSolved = slices.DeleteFunc(s.NotSolved, func(n string) bool { return strings.HasPrefix(n, "lens:") })
	for _, w := range found.Warnings {
		s.Warnings = append(s.Warnings, "board: "+w)
	}
}

// CameraOf returns the name of the camera of a run: the one that its notes name,
// else the layout's.
func (l *Lab) CameraOf(r Run) string {
	if r.Notes.Camera != "" {
		return r.Notes.Camera
	}
	return l.Layouts[r.Layout].Camera
}
