package work

import (
	"fmt"
	"runtime"

	"swathe/cmd/internal/lab"
	"swathe/coverage"
	"swathe/coverage/conduct"
	"swathe/coverage/doubt"
	"swathe/geom"
	"swathe/report"
	"swathe/track"
)

// found is what a measurement found, on its way into a report.
type found struct {
	lab      *lab.Lab
	run      lab.Run
	camera   *geom.Solution   // nil for a path
	room     *lab.RoomPicture // nil if lab.yaml names none
	track    *track.Result
	coverage *coverage.Result
	conduct  *conduct.Result
	sights   []geom.ObjectSight     // of the layout's test objects in the recording
	objects  []conduct.ObjectResult // nil: the layout has none
	left     []report.Residue       // on the layout's patches; nil: it has none
	doubt    *doubt.Result
	mark     string   // too little was seen, and the run measured all the same; empty: enough was
	warnings []string // of the camera and the recording; the coverage has its own
}

// conditionsOf are a run's conditions as run.json keeps them, its note among them.
func conditionsOf(r lab.Run) map[string]string {
	conditions := map[string]string{}
	for k, v := range r.Notes.Conditions {
		conditions[k] = v
	}
	if r.Notes.Note != "" {
		conditions["note"] = r.Notes.Note
	}
	return conditions
}

// write writes the files of the report into dir.
func (f *found) write(dir string) error {
	robot := f.lab.Robots[f.run.Robot].Robot
	conditions := conditionsOf(f.run)
	if err := writeShots(dir, f.track.TestObjects); err != nil {
		return err
	}
	var objects []report.TestObject
	if f.objects != nil {
		objects = report.TestObjects(f.objects)
	}
	var room report.RoomPicture
	if f.room != nil {
		room = report.RoomPicture{File: f.room.Name, SHA256: f.room.SHA256}
	}
	return report.WriteRun(dir, report.RunInput{
		Layout: f.run.Layout, Robot: robot, Phase: f.run.Phase, Trial: f.run.Trial, Conditions: conditions,
		Plan: f.lab.Layouts[f.run.Layout].Plan, Camera: f.camera, Room: room, Recording: f.track.Recording, ToolOff: f.run.Notes.ToolOff,
		Trace: f.track.Trace, Coverage: f.coverage, Conduct: f.conduct, TestObjects: objects, Residue: f.left, Doubt: f.doubt, Mark: f.mark, Warnings: f.warnings, Thresholds: f.lab.Settings.Thresholds(),
		Setup:    f.lab.Setup(f.run.Layout, f.run.Robot, f.lab.CameraOf(f.run)),
		Versions: map[string]string{"analysis": fmt.Sprint(lab.AnalysisVersion), "go": runtime.Version()},
	})
}
