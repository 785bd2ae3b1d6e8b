// Package store keeps recordings, set-ups and results in an object store, for
// workers that do not share the lab's folder: a folder that they all see
// (file:///srv/store) or anything that speaks S3 (s3://BUCKET?region=...).
//
// What is in a store:
//
//	lab                    the name of the lab that it belongs to
//	objects/SHA256         a recording, or a file that belongs to it, by its content
//	results/RUN.ID.zip     what came of a run, until the lab's machine has taken it
//
// Laws:
//   - A job names each file that its run depends on, lab.yaml among them, by path,
//     size and hash. What is measured is that, whatever was written meanwhile.
//   - A file is there whole, under its hash, or not at all: it is hashed as it goes up
//     and as it comes down, and what differs is refused.
//   - A result is one object, so it appears whole. Taken twice, or made twice, it is
//     the same result.
//
// Talking to a store needs libraries that would double what swathe takes to start,
// so a program of its own does it, swathe-store, started when a store is named.
// Credentials are its business alone: it reads them from the environment, as every
// client of S3 does, and they are in no address, no argument and no message.
package store

import (
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"swathe/track"
)

// Request is what swathe-store is asked, a line of JSON.
type Request struct {
	URL  string `json:"url,omitempty"`  // of the store; in the first request alone
	Do   string `json:"do"`             // open, get, put, list, stat, delete
	Key  string `json:"key,omitempty"`  // or what keys begin with
	File string `json:"file,omitempty"` // to read or to write
	// SHA256 of what is put; another content is not put.
	SHA256 string `json:"sha256,omitempty"`
}

// Reply answers it, a line of JSON.
type Reply struct {
	Error   string   `json:"error,omitempty"` // a sentence
	Missing bool     `json:"missing,omitempty"`
	SHA256  string   `json:"sha256,omitempty"` // of what was got
	Objects []Object `json:"objects,omitempty"`
}

// Object is something in a store.
type Object struct {
	Key  string `json:"key"`
	Size int64  `json:"size"` // bytes
}

// ErrMissing says that a store has no such object.
var ErrMissing = errors.New("it is not in the store")

// ErrDamaged says that an object is not what was put there.
var ErrDamaged = errors.New("with another content than was put there")

// ProgramName is the program that talks to stores.
const ProgramName = "swathe-store"

// Address reads the address of a store: as given, or from the environment's
// SWATHE_STORE; empty where there is none.
func Address(given string) (string, error) {
	if given == "" {
		given = os.Getenv("SWATHE_STORE")
	}
	if given == "" {
		return "", nil
	}
	u, err := url.Parse(given)
	switch {
	case err != nil || u.Scheme != "file" && u.Scheme != "s3":
		return "", errors.New("the store's address should be file:///FOLDER or s3://BUCKET?region=REGION")
	case u.User != nil:
		return "", errors.New("the store's address holds a user or a password. Take them out, and set AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY in the environment")
	case u.Scheme == "s3" && (u.Host == "" || u.Path != "" && u.Path != "/"):
		return "", errors.New("the store's address should be s3://BUCKET; a folder in the bucket is written s3://BUCKET?prefix=FOLDER/")
	case u.Scheme == "file" && (u.Host != "" || !filepath.IsAbs(filepath.FromSlash(u.Path))):
		return "", errors.New("the store's folder should be written with its whole path and three slashes: file:///srv/store")
	}
	return given, nil
}

// findProgram looks for swathe-store.
func findProgram() (string, error) {
	p, ok := track.FindProgram(ProgramName, "SWATHE_STORE_PROGRAM")
	if !ok {
		return "", fmt.Errorf("%s was found neither beside swathe nor on PATH; build it with: bash cmd/build.sh DIR --store", ProgramName)
	}
	return p, nil
}
