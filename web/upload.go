package web

import (
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// Limits of uploads.
const (
	mostUpload   = 512 << 20        // bytes of one form with files: an hour of stereo WAV and more
	mostInMemory = 8 << 20          // bytes of a form that are not put on the disk
	uploadTime   = 10 * time.Minute // for a slow telephone
)

// uploads are the first parts of the addresses that take files.
var uploads = []string{"knock", "listen", "flanks", "pieces", "trials", "polls"}

// takes returns how many bytes the body of a request may have. A form with files,
// sent to a page that takes files, gets more of them and more time.
func takes(w http.ResponseWriter, r *http.Request) int64 {
	if r.Method != http.MethodPost || !strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/form-data") {
		return mostBody
	}
	for _, u := range uploads {
		if r.URL.Path == "/"+u || strings.HasPrefix(r.URL.Path, "/"+u+"/") {
			// A test's recorder knows no deadlines; there it does not matter.
			_ = http.NewResponseController(w).SetReadDeadline(time.Now().Add(uploadTime))
			_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(2 * uploadTime))
			return mostUpload
		}
	}
	return mostBody
}

// sentFiles reads a form with files. What goes wrong is told to the reader.
func (s *Server) sentFiles(w http.ResponseWriter, r *http.Request) bool {
	err := r.ParseMultipartForm(mostInMemory)
	var long *http.MaxBytesError
	switch {
	case errors.As(err, &long):
		s.fail(w, r, http.StatusRequestEntityTooLarge, "That is too long", fmt.Sprintf("All files of one form together may have %d MB. Cut out the part that matters.", mostUpload>>20))
		return false
	case err != nil:
		s.fail(w, r, http.StatusBadRequest, "The form did not arrive whole", "Go back and send it again.")
		return false
	}
	return true
}

// upload is a file that was sent with a form, put on the disk until it is closed.
type upload struct {
	Name  string // as the user knows it; never used as a path
	Media string
	path  string
	file  *os.File
	also  []io.Closer // to be closed with it
}

// upload returns the file of a form's field, or nil when none was chosen.
func (s *Server) upload(r *http.Request, field string) (*upload, error) {
	if r.MultipartForm == nil || len(r.MultipartForm.File[field]) == 0 {
		return nil, nil
	}
	return putDown(r.MultipartForm.File[field][0])
}

func putDown(h *multipart.FileHeader) (*upload, error) {
	in, err := h.Open()
	if err != nil {
		return nil, err
	}
	defer in.Close()
	u, err := putCopy(in)
	if err != nil {
		return nil, err
	}
	u.Name, u.Media = cleanName(h.Filename), h.Header.Get("Content-Type")
	return u, nil
}

// putCopy puts content on the disk until it is closed.
func putCopy(in io.Reader) (*upload, error) {
	out, err := os.CreateTemp("", "thrum-*")
	if err != nil {
		return nil, err
	}
	u := &upload{path: out.Name(), file: out}
	if _, err = io.Copy(out, in); err == nil {
		_, err = out.Seek(0, io.SeekStart)
	}
	if err != nil {
		u.Close()
		return nil, err
	}
	return u, nil
}

func (u *upload) Read(p []byte) (int, error) { return u.file.Read(p) }

// Seek moves to another place of the file.
func (u *upload) Seek(offset int64, whence int) (int64, error) { return u.file.Seek(offset, whence) }

// again starts reading at the beginning.
func (u *upload) again() error {
	_, err := u.file.Seek(0, io.SeekStart)
	return err
}

// Close removes the file.
func (u *upload) Close() error {
	var faults []error
	for _, c := range u.also {
		faults = append(faults, c.Close())
	}
	return errors.Join(append(faults, u.file.Close(), os.Remove(u.path))...)
}

// cleanName keeps the last part of a file's name, short and without control characters.
func cleanName(name string) string {
	name = filepath.Base(strings.ReplaceAll(name, "\\", "/"))
	name = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r == '/' {
			return -1
		}
		return r
	}, name)
	if name == "." || name == "" {
		return "file"
	}
	letters := []rune(name)
	return string(letters[:min(len(letters), 80)])
}
