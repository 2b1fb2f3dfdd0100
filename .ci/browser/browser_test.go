package browser

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// program is allup, built once.
var program = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "allup-browser")
	if err != nil {
		return "", err
	}
	file := filepath.Join(dir, "allup")
	build := exec.Command("go", "build", "-o", file, "./cmd/allup")
	build.Dir = filepath.Join("..", "..")
	out, err := build.CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("%w: %s", err, out)
	}
	return file, nil
})

// allup runs the program, which may answer no, and fails where it says anything else.
func allup(t *testing.T, args ...string) {
	t.Helper()
	file, err := program()
	if err != nil {
		t.Fatal(err)
	}
	command := exec.Command(file, args...)
	command.Env = append(os.Environ(), "XDG_CONFIG_HOME="+t.TempDir())
	if out, err := command.CombinedOutput(); err != nil && command.ProcessState.ExitCode() != 3 {
		t.Fatalf("allup %v: %v\n%s", args, err, out)
	}
}

func testdata(parts ...string) string {
	return filepath.Join(append([]string{"..", "..", "testdata"}, parts...)...)
}

// tab is a browser's tab that notes what it says and asks for.
type tab struct {
	context.Context
	mu       sync.Mutex
	said     []string // console messages, exceptions, the browser's own log
	requests []string
}

// open opens a tab, or skips the test where there is no browser.
func open(t *testing.T) *tab {
	t.Helper()
	file := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if found, err := exec.LookPath(name); err == nil {
			file = found
			break
		}
	}
	if file == "" {
		t.Skip("no Chromium here: the pages are not looked at in a browser")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(file), chromedp.NoSandbox, chromedp.Flag("disable-gpu", true))
	ctx, stop := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(stop)
	ctx, stopTab := chromedp.NewContext(ctx)
	t.Cleanup(stopTab)
	ctx, stopTime := context.WithTimeout(ctx, 8*time.Minute)
	t.Cleanup(stopTime)
	b := &tab{Context: ctx}
	chromedp.ListenTarget(ctx, func(event any) {
		b.mu.Lock()
		defer b.mu.Unlock()
		switch e := event.(type) {
		case *runtime.EventConsoleAPICalled:
			for _, a := range e.Args {
				b.said = append(b.said, string(a.Value))
			}
		case *runtime.EventExceptionThrown:
			b.said = append(b.said, e.ExceptionDetails.Error())
		case *log.EventEntryAdded:
			b.said = append(b.said, e.Entry.Text+" "+e.Entry.URL)
		case *network.EventRequestWillBeSent:
			b.requests = append(b.requests, e.Request.URL)
		}
	})
	b.do(t, network.Enable(), log.Enable(), runtime.Enable())
	return b
}

func (b *tab) do(t *testing.T, actions ...chromedp.Action) {
	t.Helper()
	if err := chromedp.Run(b, actions...); err != nil {
		t.Fatal(err)
	}
}

// value is what a script gives.
func value[T any](t *testing.T, b *tab, script string) T {
	t.Helper()
	var v T
	b.do(t, chromedp.Evaluate(script, &v))
	return v
}

func (b *tab) show(t *testing.T, width int64, dark bool, url string) {
	t.Helper()
	b.theme(t, map[bool]string{false: "light", true: "dark"}[dark])
	b.do(t, emulation.SetDeviceMetricsOverride(width, 900, 1, width < 500), chromedp.Navigate(url))
}

// theme is what the reader's system prefers.
func (b *tab) theme(t *testing.T, scheme string) {
	t.Helper()
	b.do(t, emulation.SetEmulatedMedia().WithFeatures([]*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}))
}

// shot keeps a picture of the whole page where SCREENSHOTS names a folder.
func (b *tab) shot(t *testing.T, name string) {
	t.Helper()
	folder := os.Getenv("SCREENSHOTS")
	if folder == "" {
		return
	}
	var png []byte
	b.do(t, chromedp.FullScreenshot(&png, 100))
	if err := os.WriteFile(filepath.Join(folder, name+".png"), png, 0o644); err != nil {
		t.Fatal(err)
	}
}

// written is the address of a page that the program has written to a file.
func written(t *testing.T, args ...string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "page.html")
	allup(t, append([]string{"report", "--out", file}, args...)...)
	return "file://" + file
}

// demo is the page of a demo build.
func demo(t *testing.T, name string) string {
	t.Helper()
	return written(t, testdata("builds", name+".toml"))
}

// Every page, at three widths and in both themes: nothing is said on the console, nothing is asked of anybody, the page
// is not wider than its window, all text can be read, and everything has a name for those who listen.
func TestPages(t *testing.T) {
	b := open(t)
	for name, url := range map[string]string{
		"stint": demo(t, "stint"), "curlew": demo(t, "curlew"), "plover": demo(t, "plover"),
		"bench": written(t, "--bench", testdata("bench", "bench.toml")), "field": written(t, "--field"),
	} {
		for _, width := range []int64{375, 768, 1600} {
			t.Run(fmt.Sprintf("%s-%d", name, width), func(t *testing.T) {
				b.mu.Lock()
				b.said, b.requests = nil, nil
				b.mu.Unlock()
				b.show(t, width, false, url)
				if wide := value[int](t, b, "document.documentElement.scrollWidth"); int64(wide) > width {
					t.Errorf("the page is %d px wide", wide)
				}
				for _, over := range value[[]string](t, b, covered) {
					t.Errorf("covered: %s", over)
				}
				b.names(t)
				for _, theme := range []string{"light", "dark"} {
					b.theme(t, theme)
					for _, poor := range value[[]string](t, b, contrast) {
						t.Errorf("contrast, %s: %s", theme, poor)
					}
					b.shot(t, fmt.Sprintf("%s-%d-%s", name, width, theme))
				}
				b.mu.Lock()
				defer b.mu.Unlock()
				for _, s := range b.said {
					t.Errorf("the console says: %s", s)
				}
				for _, r := range b.requests {
					if r != url && !strings.HasPrefix(r, "data:") {
						t.Errorf("the page asks for %s", r)
					}
				}
			})
		}
	}
}

// contrast lists texts whose colour is nearer to what is behind them than 4.5:1.
//
// Source: WCAG 2.2, success criterion 1.4.3 and the definition of relative luminance.
const contrast = `(() => {
const parse = c => (c.match(/[\d.]+/g) || []).map(Number);
const lum = c => { const f = c.slice(0, 3).map(v => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; }); return 0.2126 * f[0] + 0.7152 * f[1] + 0.0722 * f[2]; };
const behind = e => { for (; e; e = e.parentElement) { const c = parse(getComputedStyle(e).backgroundColor); if (c.length === 3 || c[3] === 1) return c; } return [255, 255, 255]; };
const poor = new Map();
let seen = 0;
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
for (let n; n = walk.nextNode();) {
  const e = n.parentElement;
  if (!n.data.trim() || ["SCRIPT", "STYLE", "title", "desc"].includes(e.tagName) || !e.getClientRects().length) continue;
  const s = getComputedStyle(e), c = parse(e.closest("svg") ? s.fill : s.color), g = behind(e);
  const a = lum(c), b = lum(g), r = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
  seen++;
  if (r < 4.5) poor.set(c + " on " + g, r.toFixed(2) + ":1, " + n.data.trim().slice(0, 30));
}
if (seen < 50) poor.set("few", "only " + seen + " texts were looked at");
return [...poor].map(p => p.join(": "));
})()`

// covered lists texts of drawings that cover each other, or leave their drawing, as the browser draws them.
const covered = `(() => {
const out = [];
document.querySelectorAll("svg.drawing").forEach(svg => {
  const f = svg.getBoundingClientRect();
  if (!f.width) return;
  const list = [...svg.querySelectorAll("text")].map(t => { const r = t.getBoundingClientRect(), h = r.height > r.width ? 0 : r.height * 0.18, w = r.height > r.width ? r.width * 0.18 : 0; return { t: t.textContent, l: r.left + w, r: r.right - w, a: r.top + h, b: r.bottom - h }; });
  list.forEach((x, i) => {
    if (x.l < f.left - 0.5 || x.r > f.right + 0.5 || x.a < f.top - 0.5 || x.b > f.bottom + 0.5) out.push(x.t + " leaves its drawing");
    list.slice(0, i).forEach(y => { if (x.l < y.r - 0.5 && y.l < x.r - 0.5 && x.a < y.b - 0.5 && y.a < x.b - 0.5) out.push(x.t + " covers " + y.t); });
  });
});
return out;
})()`

// names holds that the accessibility tree names every drawing, mark, button, link and region.
func (b *tab) names(t *testing.T) {
	t.Helper()
	// Only what is looked at: the browser knows more kinds of property than the library.
	type text struct {
		Value any `json:"value"`
	}
	var tree struct {
		Nodes []struct {
			Ignored bool `json:"ignored"`
			Role    text `json:"role"`
			Name    text `json:"name"`
		} `json:"nodes"`
	}
	b.do(t, chromedp.ActionFunc(func(ctx context.Context) error {
		return cdp.Execute(ctx, accessibility.CommandGetFullAXTree, nil, &tree)
	}))
	counts := map[any]int{}
	for _, n := range tree.Nodes {
		switch n.Role.Value {
		case "image", "img", "group", "button", "link", "region", "table", "heading":
			if n.Ignored {
				continue
			}
			counts[n.Role.Value]++
			if name, _ := n.Name.Value.(string); strings.TrimSpace(name) == "" {
				t.Errorf("a %s has no name", n.Role.Value)
			}
		}
	}
	if counts["button"] == 0 || counts["image"]+counts["img"] == 0 || counts["group"] == 0 || counts["table"] == 0 {
		t.Errorf("the tree has %v", counts)
	}
}

// column is the texts of a column of the ranking.
func column(t *testing.T, b *tab, head string) []string {
	t.Helper()
	return value[[]string](t, b, fmt.Sprintf(`(() => { const t = document.getElementById("ranking");
const c = [...t.tHead.rows[0].cells].findIndex(h => h.textContent.trim() === %q);
return [...t.tBodies[0].rows].map(r => r.cells[c].textContent.trim()); })()`, head))
}

func sorted(t *testing.T, list []string, falling bool) {
	t.Helper()
	last := 0.0
	for i, s := range list {
		var v float64
		if _, err := fmt.Sscan(s, &v); err != nil {
			t.Fatal(err)
		}
		if i > 0 && (falling && v > last || !falling && v < last) {
			t.Fatalf("not sorted: %v", list)
		}
		last = v
	}
	if len(list) < 10 {
		t.Errorf("%d rows", len(list))
	}
}

// The ranking sorts by mouse and by keyboard, and rows and marks point at each other.
func TestPageInUse(t *testing.T) {
	b := open(t)
	b.show(t, 1600, false, demo(t, "stint"))
	button := func(head string) string {
		return fmt.Sprintf(`//table[@id="ranking"]//th/button[normalize-space(.)=%q]`, head)
	}
	b.do(t, chromedp.Click(button("hover A"), chromedp.BySearch))
	sorted(t, column(t, b, "hover A"), false)
	b.do(t, chromedp.Click(button("hover A"), chromedp.BySearch))
	sorted(t, column(t, b, "hover A"), true)
	if got := value[string](t, b, `document.querySelector("#ranking [aria-sort]").textContent + document.querySelector("#ranking [aria-sort]").getAttribute("aria-sort")`); got != "hover Adescending" {
		t.Errorf("the sorted column is told as %q", got)
	}
	b.do(t, chromedp.Focus(button("score"), chromedp.BySearch), chromedp.KeyEvent(kb.Enter))
	sorted(t, column(t, b, "score"), false)
	b.do(t, chromedp.KeyEvent(" "))
	sorted(t, column(t, b, "score"), true)

	lit := func(where string) string {
		return value[string](t, b, fmt.Sprintf(`[...document.querySelectorAll(%q)].filter(e => e.classList.contains("on")).map(e => e.dataset.id).join(" ")`, where))
	}
	// A row under the mouse marks its points, a point its row.
	b.point(t, `#ranking tr[data-id="fescue-640"] td`)
	if got := lit(".wide .mark[role=img]"); !strings.Contains(got, "fescue-640") || strings.Contains(got, "sedge") {
		t.Errorf("a row marks the points %q", got)
	}
	b.point(t, `#drawings .wide .mark[role=img][data-id="teasel-480"] path:last-of-type`)
	if got := lit("#ranking tr"); got != "teasel-480" {
		t.Errorf("a point under the mouse marks the rows %q", got)
	}
	// A row with the focus, too.
	b.do(t, chromedp.Evaluate(`document.querySelector("#ranking tr[data-id='bracken-650']").focus()`, nil))
	if got := lit(".wide .mark[role=img]"); !strings.Contains(got, "bracken-650") || strings.Contains(got, "teasel") {
		t.Errorf("a row with the focus marks the points %q", got)
	}
	// The tab key comes to a drawing's first mark; arrows go on, and each marks its row.
	b.do(t, chromedp.Evaluate(`document.querySelector("#drawings .wide svg .mark[tabindex='0'][data-id$='-650'], #drawings .wide svg .mark[tabindex='0']").focus()`, nil))
	first := value[string](t, b, "document.activeElement.dataset.id")
	b.do(t, chromedp.KeyEvent(kb.ArrowRight))
	second := value[string](t, b, "document.activeElement.dataset.id")
	if first == second || second == "" {
		t.Errorf("arrows go from %q to %q", first, second)
	}
	b.do(t, chromedp.Evaluate(`[...document.querySelectorAll("#drawings .wide svg .mark[data-id='bracken-720'][tabindex]")][0].focus()`, nil))
	if got := lit("#ranking tr"); got != "bracken-720" {
		t.Errorf("a mark marks the rows %q", got)
	}
	// The page moves under a mouse that lies still: what the keyboard has chosen stays marked.
	for _, to := range []string{"0", "document.body.scrollHeight", "400"} {
		b.do(t, chromedp.Evaluate("scrollTo(0, "+to+")", nil), chromedp.Sleep(300*time.Millisecond))
		if got := lit("#ranking tr"); got != "bracken-720" {
			t.Errorf("at %s the rows %q are marked", to, got)
		}
	}
	b.point(t, `#ranking tr[data-id="fescue-640"] td`)
	if got := lit("#ranking tr"); got != "fescue-640" {
		t.Errorf("a mouse that moves again marks the rows %q", got)
	}
	b.do(t, chromedp.Evaluate("document.activeElement.blur()", nil))
	if got := lit("*"); got != "" {
		t.Errorf("%q stay marked", got)
	}
}

// Without scripts the page reads: every row and text is there, and nothing looks as if it could be pressed.
func TestPageWithoutScripts(t *testing.T) {
	b := open(t)
	url := demo(t, "stint")
	b.do(t, emulation.SetScriptExecutionDisabled(true))
	b.show(t, 768, false, url)
	var text string
	b.do(t, chromedp.Text("main", &text, chromedp.ByQuery))
	for _, want := range []string{"sedge-650", "sedge-750", "less than the 1.0 g kept back", "Packs burn"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page has no %q", want)
		}
	}
}

// The page of the demo build prints on at most four sheets of A4.
func TestPrint(t *testing.T) {
	b := open(t)
	b.show(t, 1000, true, demo(t, "stint"))
	var pdf []byte
	b.do(t, chromedp.ActionFunc(func(ctx context.Context) (err error) {
		pdf, _, err = page.PrintToPDF().WithPreferCSSPageSize(true).WithPrintBackground(true).Do(ctx)
		return err
	}))
	sheets := len(regexp.MustCompile(`/Type\s*/Page[^s]`).FindAll(pdf, -1))
	if sheets < 1 || sheets > 4 {
		t.Errorf("it prints on %d sheets", sheets)
	}
	if folder := os.Getenv("SCREENSHOTS"); folder != "" {
		if err := os.WriteFile(filepath.Join(folder, "stint.pdf"), pdf, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d sheets", sheets)
}

// An open live page follows a save, without losing place or sorting, and shows what is wrong while the
// last good answer stays. How long it takes is logged: a busy machine is no fault.
func TestLive(t *testing.T) {
	b := open(t)
	good, err := os.ReadFile(testdata("builds", "stint.toml"))
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "stint.toml")
	save := func(text string) {
		t.Helper()
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	save(string(good))
	name, err := program()
	if err != nil {
		t.Fatal(err)
	}
	command := exec.Command(name, "report", file, "--live")
	command.Env = append(os.Environ(), "XDG_CONFIG_HOME="+t.TempDir())
	out, err := command.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := command.Start(); err != nil {
		t.Fatal(err)
	}
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	url := regexp.MustCompile(`http://[^ ]*`).FindString(line)
	b.show(t, 900, false, url)
	b.do(t, chromedp.Click(`//table[@id="ranking"]//th/button[normalize-space(.)="hover A"]`, chromedp.BySearch))
	b.do(t, chromedp.Evaluate("scrollTo(0, 700)", nil))

	until := func(what, script string) time.Duration {
		t.Helper()
		begun := time.Now()
		for time.Since(begun) < 20*time.Second {
			if value[bool](t, b, script) {
				return time.Since(begun)
			}
			time.Sleep(10 * time.Millisecond)
		}
		t.Fatalf("never: %s", what)
		return 0
	}
	save(strings.Replace(string(good), `"Stint 3.5"`, `"Stint 3.6"`, 1))
	took := until("the page follows", `document.querySelector("h1").textContent === "Stint 3.6"`)
	t.Logf("the page follows a save within %v", took.Round(time.Millisecond))
	sorted(t, column(t, b, "hover A"), false)
	if y := value[float64](t, b, "scrollY"); y != 700 {
		t.Errorf("the page was at 700 and is at %v", y)
	}
	save(strings.Replace(string(good), "rotors = 4", "rotors = 40", 1))
	took = until("the fault is shown", `!document.getElementById("fault").hidden && /stint\.toml:\d+: rotors/.test(document.getElementById("fault").textContent)`)
	t.Logf("a fault is shown within %v", took.Round(time.Millisecond))
	if got := value[string](t, b, `document.querySelector("h1").textContent`); got != "Stint 3.6" {
		t.Errorf("under a fault the page shows %q", got)
	}
	b.shot(t, "live-fault")
	save(string(good))
	until("the fault goes", `document.getElementById("fault").hidden && document.querySelector("h1").textContent === "Stint 3.5"`)
	if err := command.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if _, err := io.Copy(io.Discard, out); err != nil {
		t.Fatal(err)
	}
	if err := command.Wait(); err != nil {
		t.Errorf("after an interrupt it ends with %v", err)
	}
	until("the page tells that nothing answers", `/no longer answers/.test(document.getElementById("fault").textContent)`)
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, r := range b.requests {
		if !strings.HasPrefix(r, url) && !strings.HasPrefix(r, "data:") {
			t.Errorf("the page asks for %s", r)
		}
	}
}

// point moves the mouse over the first element of a selector, without pressing.
func (b *tab) point(t *testing.T, selector string) {
	t.Helper()
	at := value[[]float64](t, b, fmt.Sprintf(`(() => { const e = document.querySelector(%q); e.scrollIntoView({block: "center"});
const r = e.getBoundingClientRect(); return [r.left + r.width / 2, r.top + r.height / 2]; })()`, selector))
	b.do(t, input.DispatchMouseEvent(input.MouseMoved, at[0], at[1]))
}

// Names that would steer a page stay names: nothing runs, nothing is asked for, and nothing is said.
func TestPageOfHostileNames(t *testing.T) {
	b := open(t)
	good, err := os.ReadFile(testdata("builds", "stint.toml"))
	if err != nil {
		t.Fatal(err)
	}
	const name = `</title></script><script>document.title = 'hit'</script><img src=http://elsewhere.example/x onerror=\"document.title = 'hit'\">`
	file := filepath.Join(t.TempDir(), "hostile.toml")
	if err := os.WriteFile(file, []byte(strings.ReplaceAll(string(good), "Stint 3.5", name)), 0o644); err != nil {
		t.Fatal(err)
	}
	url := written(t, file)
	b.show(t, 768, false, url)
	if got := value[string](t, b, `document.querySelector("h1").textContent`); !strings.HasPrefix(got, "</title></script><script>") {
		t.Errorf("the heading is %q", got)
	}
	if got := value[string](t, b, "document.title"); got == "hit" {
		t.Error("a name ran as a script")
	}
	if n := value[int](t, b, "document.images.length + document.scripts.length"); n != 1 {
		t.Errorf("%d images and scripts, want the page's own script alone", n)
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, s := range b.said {
		t.Errorf("the console says: %s", s)
	}
	for _, r := range b.requests {
		if r != url && !strings.HasPrefix(r, "data:") {
			t.Errorf("the page asks for %s", r)
		}
	}
}
