package geom

// CameraSpec is what a tester knows of a camera before it is solved: the
// cameras entry of lab.yaml, with paths made absolute.
type CameraSpec struct {
	Name          string
	Width, Height int       // of its recordings, pixels
	LensHeight    float64   // m above the floor; NaN if not given
	Marks         []Mark    // surveyed points
	Model         LensModel // Brown unless lab.yaml says fisheye
	Lens          *Lens     // known beforehand; nil if not
	Board         *Board    // pictures of a printed chessboard; nil if none
	Tapes         []Tape    // distances measured on the floor, only to judge by
}

// Mark is a surveyed point and the pixel at which it shows.
type Mark struct {
	Floor Point3
	Pixel Point2
	Sigma float64 // standard uncertainty of the survey, m; 0 if not given
}

// Tape is a distance on the floor, measured with a tape between two pixels.
type Tape struct {
	From, To Point2  // pixels
	Length   float64 // m
}

// Board names pictures of a printed chessboard.
type Board struct {
	Pictures      []string // files, absolute
	Columns, Rows int      // inner corners
	Square        float64  // m
}
