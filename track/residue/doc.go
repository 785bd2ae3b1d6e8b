// Package residue measures what a robot left on the floor: stains, debris and
// hair, from pictures before and after, and one of the clean floor. It is pure Go
// over decoded pictures; package cv reads them.
//
// # Model
//
// Floor. A Ground carries pixels to the floor: the lab's solved camera, or a
// homography from four marks or more round the patch, refused where no pinhole
// camera shows the marks so (Marks.Solve). Areas and lengths are summed on the
// floor, pixel by pixel; pictures are never resampled onto it.
//
// One place. Before and after lie on the clean picture: their patterns are
// correlated, and less than a pixel of shift is taken out. Further, or where the
// patterns do not match, the pictures are refused (Mismatch).
//
// One light. Before and after are the clean floor times a gain that is smooth over
// the floor, per channel and in linear light, with a tone exponent for what a
// camera's curve does at another exposure (gain). It is fitted to the blocks of
// the floor that agree; soil, robots and people do not. All are brought into the
// light of the brightest picture.
//
// Stain. A pixel is soiled if its change, averaged over a pixel and a half, is
// above six sigmas of the clean floor's own and can be noticed (CIEDE2000 of 1).
// Its area is that of a mixture: at an edge a pixel counts by its change in units
// of the change well inside (matte), so that neither blur nor threshold moves it.
// Luma tells that share first, for JPEG and cameras keep chroma at half the
// resolution.
//
// Debris and hair. Opaque things of one colour, found and mixed alike (things).
// Touching grains are parted at necks and where one is longer than its like; hair
// is thinned to middle lines and measured along them.
//
// All pixel coordinates are (column, row), the first centre at (0, 0); floor
// coordinates and areas are m and m2; colours are codes 0..255 of sRGB or CIELAB
// under D65. A figure that could not be measured is nil, with a reason.
package residue
