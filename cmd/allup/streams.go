package main

import (
	"cmp"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"

	"golang.org/x/term"
)

// streams are everything that the program reads from and writes to, so that a
// test can stand in for all of it.
type streams struct {
	in       io.Reader
	out, err io.Writer

	outTerminal, errTerminal bool
	colour                   bool
	utf8                     bool // the terminal shows more than ASCII
	width                    int  // of the terminal, or what COLUMNS asks of a pipe; 0 for no limit

	configDir func() (string, error) // the user's configuration folder
}

// system is the real terminal, files and environment. A standard stream that was closed is the null device by now: on
// Unix the Go runtime opens that in its place, so that no file opened later gets its number. What is written there is
// gone without an error, as with > /dev/null, which cannot be told from it: many callers open the null device for
// reading and writing when they want the exit code alone.
func system() *streams {
	s := &streams{
		in: os.Stdin, out: os.Stdout, err: os.Stderr,
		outTerminal: term.IsTerminal(int(os.Stdout.Fd())),
		errTerminal: term.IsTerminal(int(os.Stderr.Fd())),
		configDir:   os.UserConfigDir,
	}
	_, noColour := os.LookupEnv("NO_COLOR")
	s.colour = s.outTerminal && !noColour && os.Getenv("TERM") != "dumb"
	s.utf8 = utf8Locale(os.Getenv("LC_ALL"), os.Getenv("LC_CTYPE"), os.Getenv("LANG"))
	s.width = columns(os.Getenv("COLUMNS"))
	if s.outTerminal {
		s.width = terminalWidth(s.width)
	}
	return s
}

// utf8Locale reports whether a locale is one of UTF-8; the first setting that says anything counts, as POSIX has it.
func utf8Locale(settings ...string) bool {
	name := strings.ToLower(cmp.Or(settings...))
	return strings.Contains(name, "utf-8") || strings.Contains(name, "utf8")
}

// columns is a width that the environment asks for; 0 where it asks for none.
func columns(text string) int {
	if w, err := strconv.Atoi(text); err == nil && w > 0 {
		return w
	}
	return 0
}

// terminalWidth is what the terminal says, or what was asked for, or 80.
func terminalWidth(asked int) int {
	if w, _, err := term.GetSize(int(os.Stdout.Fd())); err == nil && w > 0 {
		return w
	}
	if asked > 0 {
		return asked
	}
	return 80
}

// checkedWriter keeps the first error of a writer.
type checkedWriter struct {
	w   io.Writer
	err error
}

func (c *checkedWriter) Write(p []byte) (int, error) {
	n, err := c.w.Write(p)
	if err != nil && c.err == nil {
		c.err = err
	}
	return n, err
}

// userParts is the folder of the user's own records.
func (s *streams) userParts() (string, error) {
	dir, err := s.configDir()
	if err != nil {
		return "", err
	}
	return filepath.Join(dir, "allup", "parts"), nil
}

// meter draws progress on a terminal's standard error, a few times a second, and only
// of work that is still going on after a moment.
type meter struct {
	w     io.Writer
	what  string
	begun time.Time
	mu    sync.Mutex
	last  time.Time
	shown bool
}

const (
	meterPatience = 400 * time.Millisecond
	meterPeriod   = 100 * time.Millisecond
)

func (s *streams) meter(what string, quiet bool) *meter {
	m := &meter{what: what, begun: time.Now()}
	if s.errTerminal && !quiet {
		m.w = s.err
	}
	return m
}

// tick tells how much is done. It may be called from several goroutines.
func (m *meter) tick(done, total int) {
	if m.w == nil {
		return
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	now := time.Now()
	if now.Sub(m.begun) < meterPatience || now.Sub(m.last) < meterPeriod {
		return
	}
	m.last, m.shown = now, true
	// A line that cannot be drawn is no loss.
	_, _ = io.WriteString(m.w, "\r"+m.what+" "+strconv.Itoa(100*done/max(total, 1))+" %\x1b[K")
}

// clear takes the line away.
func (m *meter) clear() {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.shown {
		_, _ = io.WriteString(m.w, "\r\x1b[K")
		m.shown = false
	}
}
