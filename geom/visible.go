package geom

import (
	"fmt"
	"math"
)

// Sight says how the camera sees a place.
type Sight uint8

// The ways of being seen or not.
const (
	NotOpen    Sight = iota // no open floor: outside the room or in an obstacle
	InView                  // nothing between the lens and it
	Behind                  // an obstacle stands between
	Under                   // only an overhead lies between
	OutOfFrame              // outside the picture, or outside the lens's field
)

var sightNames = [...]string{"not open", "in view", "behind", "under", "out of frame"}

func (s Sight) String() string {
	if int(s) < len(sightNames) {
		return sightNames[s]
	}
	return "unknown"
}

// grazing, m: a line of sight that runs through a piece for less than this is
// taken to pass by it, or the foot of every obstacle would hide itself.
const grazing = 1e-6

// Hidden tells whether the line of sight from the lens to p (floor frame) is
// cut by an obstacle, taken as a prism from the floor to its height, or by an
// overhead, taken as a thin sheet at its height; name says by which, an
// obstacle before an overhead. It does not ask whether p lies in the picture.
func Hidden(cam *Camera, plan *Plan, p Point3) (hidden bool, name string) {
	s, name := sightLine(cam.Centre, plan, p)
	return s != InView, name
}

// SightOf tells how the camera sees p, frame included; name is what is in the
// way, empty if nothing is.
func SightOf(cam *Camera, plan *Plan, p Point3) (s Sight, name string) {
	px, ok := cam.Project(p)
	if !ok || !cam.InFrame(px) {
		return OutOfFrame, ""
	}
	return sightLine(cam.Centre, plan, p)
}

func sightLine(lens Point3, plan *Plan, p Point3) (Sight, string) {
	for i := range plan.Obstacles {
		if o := &plan.Obstacles[i]; o.cuts(lens, p) {
			return Behind, o.Name
		}
	}
	for i := range plan.Overhead {
		if o := &plan.Overhead[i]; o.covers(lens, p) {
			return Under, o.Name
		}
	}
	return InView, ""
}

// covers tells whether the line from lens to p passes through the piece's
// outline at its height.
func (pc *Piece) covers(lens, p Point3) bool {
	if p.Z >= pc.Height || lens.Z <= pc.Height {
		return false
	}
	t := (lens.Z - pc.Height) / (lens.Z - p.Z)
	return pc.Contains(lerp(Point2{lens.X, lens.Y}, Point2{p.X, p.Y}, t))
}

// cuts tells whether the line from lens to p runs through the prism over the
// piece's outline.
func (pc *Piece) cuts(lens, p Point3) bool {
	if p.Z >= pc.Height {
		return false
	}
	from := Point2{lens.X, lens.Y}
	to := Point2{p.X, p.Y}
	if lens.Z > pc.Height {
		from = lerp(from, to, (lens.Z-pc.Height)/(lens.Z-p.Z))
	}
	if from == to {
		return pc.Contains(to)
	}
	length := from.Dist(to)
	low := Point2{math.Min(from.X, to.X), math.Min(from.Y, to.Y)}
	high := Point2{math.Max(from.X, to.X), math.Max(from.Y, to.Y)}
	if !pc.near(low, high) {
		return false
	}
	var buf [16]Point2
	corners := buf[:0]
	for _, q := range pc.Outline[1:] {
		corners = append(corners, Point2{q[0], q[1]})
	}
	cuts := cutsOf(from, to, corners)
	for i := 1; i < len(cuts); i++ {
		if (cuts[i]-cuts[i-1])*length > grazing && pc.Contains(lerp(from, to, (cuts[i]+cuts[i-1])/2)) {
			return true
		}
	}
	return false
}

// near tells whether the outline's box meets the box from low to high.
func (pc *Piece) near(low, high Point2) bool {
	x0, x1 := math.Inf(1), math.Inf(-1)
	y0, y1 := math.Inf(1), math.Inf(-1)
	for _, q := range pc.Outline {
		x0, x1 = math.Min(x0, q[0]), math.Max(x1, q[0])
		y0, y1 = math.Min(y0, q[1]), math.Max(y1, q[1])
	}
	return x0 <= high.X && x1 >= low.X && y0 <= high.Y && y1 >= low.Y
}

// View is how a camera sees the floor of a plan, cell by cell. Cell (c, r)
// spans Origin + [c, c+1) x [r, r+1) cells and is judged by its centre.
type View struct {
	Cell       float64 // m
	Origin     Point2  // floor, m: the low corner of the plan's bounds
	Cols, Rows int
	Cells      []Sight // Rows x Cols, the row of least y first

	OpenM2   float64 // open floor
	UnseenM2 float64 // of it Behind an obstacle or OutOfFrame
	UnderM2  float64 // of it only Under an overhead
}

// At returns the sight of cell (col, row).
func (v *View) At(col, row int) Sight { return v.Cells[row*v.Cols+col] }

// maxCells bounds a View: 100 million cells are 100 MB.
const maxCells = 100e6

// UnseenArea looks at every cell of the plan's floor (at the height of the
// area that it lies in) and tells how the camera sees it. Areas are sums of
// whole cells; they err by about half a cell along each border. It errs if
// cell (m) is not a length or would make too many cells.
func UnseenArea(cam *Camera, plan *Plan, cell float64) (*View, error) {
	low, high := plan.Bounds()
	cols, rows := math.Ceil((high.X-low.X)/cell), math.Ceil((high.Y-low.Y)/cell)
	if !(cell > 0) || !(cols*rows <= maxCells) {
		return nil, fmt.Errorf("view of plan %s: cells of %g m over %.2f x %.2f m are too many or none; use about 0.01 m", plan.Name, cell, high.X-low.X, high.Y-low.Y)
	}
	v := &View{Cell: cell, Origin: low, Cols: int(cols), Rows: int(rows)}
	v.Cells = make([]Sight, v.Cols*v.Rows)
	var n [OutOfFrame + 1]int
	for r := 0; r < v.Rows; r++ {
		for c := 0; c < v.Cols; c++ {
			q := Point2{low.X + (float64(c)+0.5)*cell, low.Y + (float64(r)+0.5)*cell}
			s := NotOpen
			if plan.Open(q) {
				s, _ = SightOf(cam, plan, Point3{q.X, q.Y, plan.FloorHeight(q)})
			}
			v.Cells[r*v.Cols+c] = s
			n[s]++
		}
	}
	a := cell * cell
	v.OpenM2 = a * float64(len(v.Cells)-n[NotOpen])
	v.UnseenM2 = a * float64(n[Behind]+n[OutOfFrame])
	v.UnderM2 = a * float64(n[Under])
	return v, nil
}
