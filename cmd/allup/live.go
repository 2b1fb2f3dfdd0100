package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/signal"
	"slices"
	"strconv"
	"sync"
	"syscall"
	"time"

	"allup/cmd/allup/internal/page"
)

// lookEvery is how often the files of a live page are looked at. A change counts when it has stood for one more look:
// a file may be half saved.
const lookEvery = 60 * time.Millisecond

// live serves a page to this machine alone until the context ends or Ctrl-C comes, and makes it anew when a file that
// it was made from changes. The first page must work out.
func (a *app) live(ctx context.Context, build func() (*page.Page, error)) error {
	if ctx == nil {
		ctx = context.Background()
	}
	ctx, stop := signal.NotifyContext(ctx, os.Interrupt, syscall.SIGTERM)
	defer stop()
	show := &liveShow{changed: make(chan struct{})}
	a.seeFolders()
	if err := show.build(build); err != nil {
		return err
	}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return fmt.Errorf("serving the page: %w", err)
	}
	server := &http.Server{Handler: show.handler(listener.Addr().String()), ReadHeaderTimeout: 5 * time.Second}
	if _, err := fmt.Fprintf(a.out, "Live: http://%s/ (on this machine only; Ctrl-C ends it)\n", listener.Addr()); err != nil {
		listener.Close()
		return err
	}
	a.quiet = true // the page shows what is wrong
	done := make(chan struct{})
	go func() {
		defer close(done)
		a.follow(ctx, show, build)
	}()
	go func() {
		<-ctx.Done()
		server.Close() // open event streams would outlast a polite end
	}()
	err = server.Serve(listener)
	<-done
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return err
}

// follow makes the page anew after each change of a file since it was last read, until the context ends.
func (a *app) follow(ctx context.Context, show *liveShow, build func() (*page.Page, error)) {
	good := a.seen // what the last page that worked out was made from
	var before []string
	for ticks := time.Tick(lookEvery); ; {
		select {
		case <-ctx.Done():
			return
		case <-ticks:
		}
		now, changed := a.look()
		if !changed || !slices.Equal(now, before) {
			before = now
			continue
		}
		a.seen, a.opened = nil, nil
		for _, s := range good { // where a fault ends the reading, what was not come to is still followed
			a.see(s.look)
		}
		kept := len(a.seen)
		a.seeFolders()
		if err := show.build(build); err != nil {
			show.fail(err)
		} else {
			a.seen = a.seen[kept:]
			good = a.seen
		}
		before = nil
	}
}

// look tells what all that the page was made from is like, and whether any of it has changed since.
func (a *app) look() (now []string, changed bool) {
	for _, s := range a.seen {
		now = append(now, s.now())
		changed = changed || now[len(now)-1] != s.was
	}
	return now, changed
}

// seeFolders takes sight of the folders of records: files may be added.
func (a *app) seeFolders() {
	folders := slices.Clone(a.parts)
	if own, err := a.userParts(); err == nil {
		folders = append(folders, own)
	}
	for _, f := range folders {
		a.see(func() (os.FileInfo, error) { return os.Stat(f) })
	}
}

// liveShow is what a live page shows: the last answer that worked out, and what is wrong since.
type liveShow struct {
	mu      sync.Mutex
	count   int
	html    []byte
	fault   string
	changed chan struct{} // closed when any of this changes
}

func (s *liveShow) build(build func() (*page.Page, error)) error {
	p, err := build()
	if err != nil {
		return err
	}
	s.mu.Lock()
	count := s.count + 1
	s.mu.Unlock()
	p.Live = strconv.Itoa(count)
	var b bytes.Buffer
	if err := p.HTML(&b); err != nil {
		return err
	}
	s.set(func() { s.count, s.html, s.fault = count, b.Bytes(), "" })
	return nil
}

func (s *liveShow) fail(err error) {
	s.set(func() { s.fault = cleanLines(err.Error()) })
}

func (s *liveShow) set(change func()) {
	s.mu.Lock()
	defer s.mu.Unlock()
	change()
	close(s.changed)
	s.changed = make(chan struct{})
}

func (s *liveShow) now() (count int, html []byte, fault string, changed <-chan struct{}) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.count, s.html, s.fault, s.changed
}

// handler answers requests to the address that the page is served at, and from that page only: not those that reach
// this machine under another name, nor those that another page makes.
func (s *liveShow) handler(address string) http.Handler {
	mux := http.NewServeMux()
	document := func(w http.ResponseWriter, _ *http.Request) {
		_, html, _, _ := s.now()
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		w.Write(html)
	}
	mux.HandleFunc("GET /{$}", document)
	mux.HandleFunc("GET /page", document)
	mux.HandleFunc("GET /events", s.events)
	_, port, _ := net.SplitHostPort(address)
	hosts := []string{address, "localhost:" + port}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		origin := r.Header.Get("Origin")
		from := r.Header.Get("Sec-Fetch-Site")
		switch {
		case !slices.Contains(hosts, r.Host):
			http.Error(w, "no page of that name", http.StatusMisdirectedRequest)
			return
		case origin != "" && origin != "http://"+r.Host, from == "cross-site", from == "same-site":
			http.Error(w, "not for other pages", http.StatusForbidden)
			return
		}
		h := w.Header()
		h.Set("Cache-Control", "no-store")
		h.Set("Content-Security-Policy", "frame-ancestors 'none'")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("X-Content-Type-Options", "nosniff")
		mux.ServeHTTP(w, r)
	})
}

// events tells an open page, at once and after each change, which answer is the last and what is wrong.
func (s *liveShow) events(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Type", "text/event-stream")
	flush := http.NewResponseController(w)
	for {
		count, _, fault, changed := s.now()
		fmt.Fprintf(w, "event: page\ndata: %d\n\n", count)
		if fault != "" {
			text, err := json.Marshal(fault)
			if err != nil {
				return
			}
			fmt.Fprintf(w, "event: fault\ndata: %s\n\n", text)
		}
		if flush.Flush() != nil {
			return
		}
		select {
		case <-r.Context().Done():
			return
		case <-changed:
		}
	}
}
