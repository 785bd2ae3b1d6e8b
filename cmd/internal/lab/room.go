package lab

import (
	"errors"
	"fmt"
	"path/filepath"
	"strconv"
	"strings"
)

// RoomPicture is what a camera showed of its room on the day of its survey,
// taken on purpose and named in lab.yaml: against it a camera that was knocked
// since is noticed, and put right.
type RoomPicture struct {
	Name   string // as lab.yaml spells it, from the lab's folder
	File   string // absolute
	SHA256 string
}

// roomKey is the entry of a camera that names its room's picture.
const roomKey = "room_picture"

// RoomPicture returns the picture of the room that lab.yaml names for a camera;
// nil if it names none. The error is a sentence: the file is not there, or it
// was taken before the camera was surveyed anew, so that what moved between the
// two would be put right although the new survey has it already.
func (l *Lab) RoomPicture(camera string) (*RoomPicture, error) {
	c := l.Cameras[camera]
	if c == nil || c.Room == "" {
		return nil, nil
	}
	again := fmt.Sprintf("make it again with swathe check LAB --recording FILE --keep, or remove %s from lab.yaml.", roomKey)
	p := &RoomPicture{Name: c.Room, File: l.inLab(c.Room)}
	if !strings.Contains(filepath.Base(p.File), l.surveyID(camera)) {
		return nil, fmt.Errorf("camera %s: %s %s belongs to an earlier survey of the camera: %s", camera, roomKey, c.Room, again)
	}
	var err error
	if p.SHA256, err = l.hashes.Sum(p.File); err != nil {
		return nil, fmt.Errorf("camera %s: %s %s can't be read: %w. Restore it, %s", camera, roomKey, c.Room, err, again)
	}
	return p, nil
}

func (l *Lab) inLab(name string) string {
	if filepath.IsAbs(name) {
		return name
	}
	return filepath.Join(l.Dir, filepath.FromSlash(name))
}

// surveyID names a camera's survey: it changes when the marks or the lens do.
func (l *Lab) surveyID(camera string) string {
	var b strings.Builder
	l.writeSurvey(&b, l.Cameras[camera].Spec)
	return hashOf([]byte(b.String()))[:12]
}

// NewRoomPicture is where the picture of a camera's room is to be written,
// absolute, and how lab.yaml then names it.
func (l *Lab) NewRoomPicture(camera string) (file, name string) {
	name = "survey/" + camera + "-" + l.surveyID(camera) + ".png"
	return l.inLab(name), name
}

// NameRoomPicture has lab.yaml, whose text is given, name the picture of a
// camera's room; all else in it stays as it is.
func NameRoomPicture(text []byte, camera, name string) ([]byte, error) {
	m, ok := SetupValue(text)
	if !ok {
		return nil, errors.New("lab.yaml is not valid YAML; fix it first")
	}
	cameras, _ := m.Get("cameras")
	all, ok := cameras.(Map)
	entry, there := all.Get(camera)
	cam, isMap := entry.(Map)
	if !ok || !there || !isMap {
		return nil, fmt.Errorf("lab.yaml has no camera %q to record the room's picture for", camera)
	}
	out, err := EditSetup(text, m.Set("cameras", all.Set(camera, cam.Set(roomKey, name))))
	if err != nil {
		return nil, fmt.Errorf("%w: write under the camera %s: %s: %s", err, camera, roomKey, strconv.Quote(name))
	}
	return out, nil
}
