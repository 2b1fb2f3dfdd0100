package main

import (
	"bufio"
	"context"
	"errors"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"allup/cmd/allup/internal/page"
)

// serveLive serves the live page of a copy of a demo build, and gives the page's address and the build's file.
func serveLive(t *testing.T, more ...string) (address, file string) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(repository(t), "testdata", "builds", "stint.toml"))
	if err != nil {
		t.Fatal(err)
	}
	file = filepath.Join(t.TempDir(), "stint.toml")
	if err := os.WriteFile(file, text, 0o644); err != nil {
		t.Fatal(err)
	}
	read, write := io.Pipe()
	empty := t.TempDir()
	s := &streams{in: strings.NewReader(""), out: write, err: io.Discard, configDir: func() (string, error) { return empty, nil }}
	ctx, stop := context.WithCancel(t.Context())
	root := newRoot(s)
	root.SetArgs(append([]string{"report", file, "--live"}, more...))
	ended := make(chan error)
	go func() {
		ended <- root.ExecuteContext(ctx)
		close(ended)
	}()
	line, err := bufio.NewReader(read).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			t.Errorf("the live page ended with %v", err)
		}
	})
	address = regexp.MustCompile(`http://[^ ]*`).FindString(line)
	if !strings.HasPrefix(address, "http://127.0.0.1:") {
		t.Fatalf("the live page says %q", line)
	}
	return address, file
}

func ask(t *testing.T, url string, header ...string) (code int, body string) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(header); i += 2 {
		if header[i] == "Host" {
			r.Host = header[i+1]
			continue
		}
		r.Header.Set(header[i], header[i+1])
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	return answer.StatusCode, string(text)
}

// The live page is for this machine and for itself only.
func TestLiveAnswersItselfOnly(t *testing.T) {
	address, _ := serveLive(t)
	_, port, _ := strings.Cut(strings.TrimPrefix(address, "http://"), ":")
	port = strings.TrimSuffix(port, "/")
	for _, tt := range []struct {
		what   string
		header []string
		want   int
	}{
		{"itself", nil, http.StatusOK},
		{"by its other name", []string{"Host", "localhost:" + port}, http.StatusOK},
		{"its own script", []string{"Origin", strings.TrimSuffix(address, "/"), "Sec-Fetch-Site", "same-origin"}, http.StatusOK},
		{"a name that was made to point here", []string{"Host", "elsewhere.example:" + port}, http.StatusMisdirectedRequest},
		{"no port", []string{"Host", "127.0.0.1"}, http.StatusMisdirectedRequest},
		{"another page's script", []string{"Origin", "http://elsewhere.example"}, http.StatusForbidden},
		{"another page on this machine", []string{"Origin", "http://127.0.0.1:1"}, http.StatusForbidden},
		{"a hidden origin", []string{"Origin", "null"}, http.StatusForbidden},
		{"a link from elsewhere", []string{"Sec-Fetch-Site", "cross-site"}, http.StatusForbidden},
	} {
		if code, _ := ask(t, address, tt.header...); code != tt.want {
			t.Errorf("%s is answered with %d, want %d", tt.what, code, tt.want)
		}
	}
	if code, _ := ask(t, address+"stint.toml"); code != http.StatusNotFound {
		t.Errorf("a file is answered with %d", code)
	}
	for _, method := range []string{http.MethodPost, http.MethodPut, http.MethodDelete, http.MethodOptions} {
		for _, path := range []string{"", "page", "events"} {
			r, err := http.NewRequestWithContext(t.Context(), method, address+path, strings.NewReader("x"))
			if err != nil {
				t.Fatal(err)
			}
			answer, err := http.DefaultClient.Do(r)
			if err != nil {
				t.Fatal(err)
			}
			answer.Body.Close()
			if answer.StatusCode != http.StatusMethodNotAllowed {
				t.Errorf("%s /%s is answered with %d", method, path, answer.StatusCode)
			}
			if allowed := answer.Header.Get("Access-Control-Allow-Origin"); allowed != "" {
				t.Errorf("%s /%s lets %s in", method, path, allowed)
			}
		}
	}
}

// Nothing but this machine can reach the live page: it listens on the loopback address alone.
func TestLiveListensOnLoopbackOnly(t *testing.T) {
	address, _ := serveLive(t)
	_, port, _ := strings.Cut(strings.TrimPrefix(address, "http://"), ":")
	port = strings.TrimSuffix(port, "/")
	list, err := net.InterfaceAddrs()
	if err != nil {
		t.Fatal(err)
	}
	tried := 0
	for _, a := range list {
		ip, _, err := net.ParseCIDR(a.String())
		if err != nil || ip.IsLoopback() || ip.IsLinkLocalUnicast() {
			continue
		}
		tried++
		c, err := net.DialTimeout("tcp", net.JoinHostPort(ip.String(), port), time.Second)
		if err == nil {
			c.Close()
			t.Errorf("it answers at %s", ip)
		}
	}
	if tried == 0 {
		t.Skip("this machine has no address but its loopback")
	}
}

// A saved file makes the page anew; a fault in it is told with its line while the last page stays, and goes again.
func TestLiveFollowsItsFile(t *testing.T) {
	address, file := serveLive(t)
	events := listen(t, address+"events")
	if got := <-events; got != "page 1" {
		t.Fatalf("first event is %q", got)
	}
	good, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	save := func(text string) {
		t.Helper()
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	next := func() string {
		select {
		case e := <-events:
			return e
		case <-time.After(time.Minute): // a busy machine; the browser's test measures
			t.Fatal("nothing follows the save")
		}
		return ""
	}
	save(strings.Replace(string(good), `pack  = "sedge-650"`, `pack  = "sedge-6500"`, 1))
	next() // the page that still stands
	if got := next(); !strings.HasPrefix(got, `fault "`) || !regexp.MustCompile(`stint\.toml:\d+: .*sedge-650`).MatchString(got) {
		t.Errorf("a fault is told as %s", got)
	}
	if _, page := ask(t, address); !strings.Contains(page, "<h1>Stint 3.5</h1>") {
		t.Error("the last good page is gone")
	}
	save(strings.Replace(string(good), `"Stint 3.5"`, `"Stint 3.6"`, 1))
	if got := next(); got != "page 2" {
		t.Errorf("the mended file gives %q", got)
	}
	if _, page := ask(t, address); !strings.Contains(page, "<h1>Stint 3.6</h1>") {
		t.Error("the page does not follow the file")
	}
}

// What is saved while the page is made from what stood there before is not lost, for the first page and for those after
// it, whether they work out or not.
func TestLiveLosesNoSave(t *testing.T) {
	file := filepath.Join(t.TempDir(), "build.toml")
	save := func(text string) {
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			t.Error(err)
		}
	}
	save("1")
	empty := t.TempDir()
	a := &app{streams: &streams{out: io.Discard, err: io.Discard, configDir: func() (string, error) { return empty, nil }}}
	ctx, stop := context.WithTimeout(t.Context(), time.Minute) // a save that is lost is waited for in vain
	defer stop()
	var read []string
	err := a.live(ctx, func() (*page.Page, error) {
		f, _, err := a.open("build", file)
		if err != nil {
			return nil, err
		}
		defer f.Close()
		text, err := io.ReadAll(f)
		if err != nil {
			return nil, err
		}
		read = append(read, string(text))
		switch string(text) {
		case "1":
			save("two")
		case "two":
			save("a fault")
		case "a fault":
			save("the last")
			return nil, errors.New("a fault")
		default:
			stop()
		}
		return &page.Page{}, nil
	})
	if err != nil {
		t.Error(err)
	}
	if want := []string{"1", "two", "a fault", "the last"}; !slices.Equal(read, want) {
		t.Errorf("read are %q, want %q", read, want)
	}
}

// Records of one's own are followed like the build.
func TestLiveFollowsRecords(t *testing.T) {
	records := filepath.Join(t.TempDir(), "mine.toml")
	save := func(grams string) {
		t.Helper()
		text := "[frame.lark-35]\nname = \"Lark\"\nrotors = 4\nmax_prop_in = 3.5\nmass_g = " + grams + "\n"
		if err := os.WriteFile(records, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	save("30.0")
	address, _ := serveLive(t, "--parts", records)
	events := listen(t, address+"events")
	if got := <-events; got != "page 1" {
		t.Fatalf("first event is %q", got)
	}
	save("35.55")
	select {
	case got := <-events:
		if got != "page 2" {
			t.Errorf("saved records give %q", got)
		}
	case <-time.After(time.Minute):
		t.Fatal("nothing follows the save")
	}
	if _, page := ask(t, address); !strings.Contains(page, "mine.toml:1") {
		t.Error("the page does not name the records")
	}
}

// listen gives the events of a stream as "kind data".
func listen(t *testing.T, url string) <-chan string {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url, nil)
	if err != nil {
		t.Fatal(err)
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	events := make(chan string, 10)
	go func() {
		defer answer.Body.Close()
		kind := ""
		for lines := bufio.NewScanner(answer.Body); lines.Scan(); {
			if k, ok := strings.CutPrefix(lines.Text(), "event: "); ok {
				kind = k
			} else if data, ok := strings.CutPrefix(lines.Text(), "data: "); ok {
				events <- kind + " " + data
			}
		}
	}()
	return events
}

func TestLiveRefusals(t *testing.T) {
	for _, args := range [][]string{
		{"report", "x.toml", "--live", "--out", "x.html"},
		{"report", "-", "--live"},
		{"report", "x.toml", "--live", "--drawings", "d"},
	} {
		if got := tell(t, 0, "", args...); got.Code != exitInput || !strings.Contains(got.Err, "--live") {
			t.Errorf("allup %v ends with %d and says %q", args, got.Code, got.Err)
		}
	}
}
