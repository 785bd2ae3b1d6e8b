// Package conduct tells what a robot did in a run: where its time went, what
// happened, how it drove. A path, its plan and its coverage go in, values come
// out; pixels are no business of its.
//
// # The ledger
//
// Every moment of the run, every metre and every swept square metre belongs to
// exactly one entry. An interval between two samples is given to the first of
// these that holds, at its middle:
//
//  1. carried: a person has the robot in hand. What it does then it does not do
//     of itself.
//  2. hidden or lost: it is lost, or out of sight for Options.HiddenTime or
//     longer. Shorter gaps are bridged, and count as what is done around them.
//  3. docked: it stands within Options.DockDistance of the dock, in its direction
//     to 45 degrees, forwards or backwards.
//  4. stuck: within a stuck event.
//  5. to the dock, back to work: the way there, from the last lane of rows or
//     the last new floor that was not on the straight way home, and the way from
//     it until new floor or a lane. A way may sweep new floor, and that is
//     credited as area, but it is the dock that the time is for.
//  6. reversing: it moves backwards.
//  7. along edges, around obstacles: the body within Options.EdgeDistance of a
//     wall, or of an obstacle, and driving within Options.EdgeAngle of its
//     direction, at whatever speed: slow driving along an edge is no idleness.
//     Whether the floor there was new or not: an edge is cleaned for its own
//     sake, and its new floor is credited as area.
//  8. turning: slower than half its own speed, with its heading changing: the
//     turns between rows, and on the spot. Half, because at a sudden corner the
//     window over which speed is taken shows just that at the corner's time.
//  9. standing: slower than Options.StandSpeed, without turning.
//  10. The rest is driving in the open. Its time and distance are shared between
//     new floor and one other entry, in the proportion in which what it newly
//     passes over is new: a lane of which a tenth overlaps its neighbour is nine
//     parts new floor and one part overlap. The other entry is
//     lane overlap in a lane of rows;
//     second layer in a lane of rows less than Options.SecondLayerShare new: a layer
//     across, on purpose;
//     transit over cleaned floor outside rows.
//
// Area follows: what is swept for the first time in point 10 is new floor, what
// is swept again is the other entry's. Redundancy is the area swept again over
// all that was covered, so its parts sum to the run's redundancy. No entry is a
// fault: what is told is where time went, not whether it should have.
//
// Beside it stands the least time: the covered floor over the tool's width times
// the robot's own speed, which is the median over the middle halves of its
// straight stretches. Nothing turns or overlaps in it, so no robot attains it.
//
// # Events
//
// The path is looked at on an even clock of ten ticks a second; each is a
// straight line fitted to the samples within a fifth of a second. Times at which
// motion changes suddenly (spin, contact) are taken from the samples themselves.
//
// A spin and a pause are defined with the figures: a spin turns by SpinTurn or
// more, net, in one sense, with the centre within SpinDrift of where the turn
// began, and turning in the same sense just before and after belongs to it; a
// pause stays within PauseDrift and PauseTurn for PauseTime and the run goes on.
// A stay in the dock is no pause.
//
// stuck: in StuckTime or more, all within StuckDrift of one place, at least
// StuckTries starts of a turn, a move or a reverse in each StuckTime, none of
// them part of a spin.
//
// contact and near: the body comes from ContactFrom or farther away, at
// ContactSpeed and ContactAngle or more, to where its distance from a wall or an
// obstacle cannot be told from nought: within a guard band (JCGM 106:2012) of 1.96
// standard uncertainties, made of the survey's corners (OutlineSigma), the path's
// own sigma there and the body's radius (BodyTol). Where things are cannot decide
// then whether it touched; the robot's motion can. It is a contact if the robot
// came to rest by a stop faster than ContactBrake, as by a bumper, and backed off
// within three seconds, or if it went along with its nose into the thing by 20
// degrees or more, for wheels do not roll sideways. Else it is near, with its
// distance and the ends of its 95 % interval. What moved has been touched: a
// test object that went by ObjectGap or more while the robot was at it, or whose
// outline the body was over by more than the guard band. A robot that sees a wall
// and stops before it more quickly than ContactBrake, then backs off, is taken
// for one that touched it. Passing a corner alongside is neither.
//
// revisit: RevisitTime and RevisitWay or more with less than RevisitShare of the
// sweep new; what of it is a second layer or a way to the dock is not counted as
// lost. edge retry: EdgeRetryTimes visits or
// more to one stretch of boundary not much longer than the robot, with at most
// one visit elsewhere between two of them and less than RevisitShare new. swerve:
// the robot leaves a straight line by SwerveOffset and comes back to it, or turns
// aside from it on a curve by SwerveTurn to 120 degrees, although nothing stands ahead
// within what its body would have passed: no wall, obstacle, test object or area that it
// is to keep out of. A turn on the spot is no swerve: whoever stops to turn has
// somewhere to go.
//
// # Rows
//
// A lane is a straight stretch of LaneLength or more. Two lanes are neighbours
// if they are parallel within RowAngle, lie between 0.3 and 2 tool widths apart
// at both ends of where they are abreast, and are abreast for a third of the
// shorter. Rows are RowLanes or more lanes, each the neighbour of one at most
// three before it. Random driving makes no such chain: its lanes leave a wall
// where the one before met it, so that they are no row apart there.
//
// # Laws
//
// The ledger's entries sum to the run: time, distance, new area, area again,
// redundancy. Events are in order of their start and lie within the run. A value
// that could not be measured is NaN. Nothing here changes its arguments.
package conduct
