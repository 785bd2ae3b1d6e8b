package work

import (
	"os"
	"path/filepath"

	"swathe/coverage/conduct"
	"swathe/track/sight"
)

// sightsOf hands what was seen of props on to the analysis.
func sightsOf(seen []sight.PropSight) []conduct.PropSight {
	out := make([]conduct.PropSight, len(seen))
	for i, p := range seen {
		out[i] = conduct.PropSight{Name: p.Name, Seen: p.Seen, Reason: p.Reason, Present: p.Present}
		for _, k := range p.Track {
			out[i].Track = append(out[i].Track, conduct.PropPose{T: k.T, X: k.X, Y: k.Y, TurnRad: k.Turn})
		}
	}
	return out
}

// writeShots writes the pictures of props before and after the run into the
// folder props of a result: <name>_before.png and <name>_after.png.
func writeShots(dir string, seen []sight.PropSight) error {
	for _, p := range seen {
		for side, data := range map[string][]byte{"before": p.Before, "after": p.After} {
			if len(data) == 0 {
				continue
			}
			to := filepath.Join(dir, "props", p.Name+"_"+side+".png")
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
