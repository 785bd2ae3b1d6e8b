package page

import (
	"archive/zip"
	"errors"
	"io"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"strings"
)

// zipped sends a folder of comparisons/ or exports/ as one zip, written as it goes.
func (s *server) zipped(folder string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		name := r.PathValue("name")
		if err := plainName(name, "a folder"); err != nil {
			refuse(w, err)
			return
		}
		s.zip(w, r, path.Join(folder, name), name)
	}
}

func (s *server) zippedResult(w http.ResponseWriter, r *http.Request) {
	id, err := runName(r)
	if err != nil {
		refuse(w, err)
		return
	}
	s.zip(w, r, path.Join("results", id), strings.ReplaceAll(id, "/", "_"))
}

// zip sends the plain files of a folder of the lab, and of folders in it, as one
// zip. What leads out of the lab is left out. If it ends early the zip lacks its
// list of contents, and every program says that it is damaged.
func (s *server) zip(w http.ResponseWriter, r *http.Request, dir, name string) {
	if st, err := s.root.Stat(dir); err != nil || !st.IsDir() {
		refuse(w, Refuse(http.StatusNotFound, "There is no %s.", dir))
		return
	}
	w.Header().Set("Content-Type", "application/zip")
	w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": name + ".zip"}))
	z := zip.NewWriter(w)
	err := fs.WalkDir(s.root.FS(), dir, func(p string, e fs.DirEntry, err error) error {
		if err != nil || r.Context().Err() != nil {
			return errors.Join(err, r.Context().Err())
		}
		if strings.HasPrefix(e.Name(), ".") && e.IsDir() {
			return fs.SkipDir
		}
		if !e.Type().IsRegular() || strings.HasPrefix(e.Name(), ".") {
			return nil
		}
		st, err := e.Info()
		if err != nil {
			return err
		}
		h, err := zip.FileInfoHeader(st)
		if err != nil {
			return err
		}
		h.Name = name + strings.TrimPrefix(p, dir)
		if h.Method = zip.Deflate; packed(p) {
			h.Method = zip.Store
		}
		to, err := z.CreateHeader(h)
		if err != nil {
			return err
		}
		f, err := s.root.Open(p)
		if err != nil {
			return err
		}
		defer f.Close()
		_, err = io.Copy(to, f)
		return err
	})
	if err == nil {
		err = z.Close()
	}
	if err != nil {
		panic(http.ErrAbortHandler) // the head is sent: the client must see that it broke off
	}
}

// packed tells whether a file is packed already.
func packed(name string) bool {
	switch strings.ToLower(path.Ext(name)) {
	case ".png", ".jpg", ".jpeg", ".mp4", ".parquet", ".pdf":
		return true
	}
	return false
}

// resultFile sends one of the files of a result, to be kept.
func (s *server) resultFile(w http.ResponseWriter, r *http.Request) {
	id, err := runName(r)
	file := r.PathValue("file")
	if err == nil {
		err = plainName(file, "a file")
	}
	if err != nil {
		refuse(w, err)
		return
	}
	w.Header().Set("Content-Security-Policy", "default-src 'none'; sandbox; frame-ancestors 'none'")
	w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": file}))
	s.file(w, r, path.Join("results", id, file))
}

// resultFiles lists the files of a result by their names.
func (s *server) resultFiles(id string) []string {
	var out []string
	list, _ := fs.ReadDir(s.root.FS(), path.Join("results", id))
	for _, f := range list {
		if f.Type().IsRegular() && plainName(f.Name(), "") == nil {
			out = append(out, f.Name())
		}
	}
	return out
}
