package work

import (
	"os"
	"path/filepath"

	"swathe/geom"
	"swathe/track/sight"
)

// sightsOf hands what was seen of test objects on to the analysis.
func sightsOf(seen []sight.ObjectSight) []geom.ObjectSight {
	out := make([]geom.ObjectSight, len(seen))
	for i, p := range seen {
		out[i] = p.ObjectSight
	}
	return out
}

// writeShots writes the pictures of test objects before and after the run into the
// folder test_objects of a result: <name>_before.png and <name>_after.png.
func writeShots(dir string, seen []sight.ObjectSight) error {
	for _, p := range seen {
		for side, data := range map[string][]byte{"before": p.Before, "after": p.After} {
			if len(data) == 0 {
				continue
			}
			to := filepath.Join(dir, "test_objects", p.Name+"_"+side+".png")
			if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
				return err
			}
			if err := os.WriteFile(to, data, 0o644); err != nil {
				return err
			}
		}
	}
	return nil
}

// surveyed are the test objects of a layout as a path knows them.
func surveyed(plan *geom.Plan) []geom.ObjectSight {
	var out []geom.ObjectSight
	for _, p := range plan.TestObjects {
		out = append(out, geom.ObjectSight{Name: p.Name, Surveyed: true})
	}
	return out
}
