package page_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"regexp"
	"strings"
	"testing"

	"allup/cmd/allup/internal/draw"
	"allup/cmd/allup/internal/page"
	"allup/cmd/allup/internal/sheet"
)

func html(t *testing.T, p *page.Page) string {
	t.Helper()
	var b bytes.Buffer
	if err := p.HTML(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func demo(text string) *page.Page {
	table := &sheet.Table{Columns: []sheet.Column{{Head: "pack", Key: "pack", Left: true}, {Head: "g", Key: "g"}, {Head: text, Key: "why", Left: true, Wrap: true}}}
	table.Add(sheet.Word(text), sheet.Number(12.34567, 1), sheet.Word(text))
	table.Add(sheet.Word("b"), sheet.Unknown(), sheet.Word("x"))
	return &page.Page{
		Title: text, Verdict: []string{text, text}, Made: []string{text},
		Sections: []page.Section{{
			ID: "one", Title: text, Lead: []string{text}, Notes: []string{text}, Source: text,
			Tables: []page.Table{{ID: "t", Caption: text, Table: table, Subject: "pack"}},
		}},
	}
}

// Whatever text a page is given stays text.
func TestTextIsData(t *testing.T) {
	for _, text := range []string{`</script><script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, `</style><b>`, "' onfocus='alert(1)", "{{.}}", "<!--", "]]>"} {
		got := html(t, demo(text))
		plain := html(t, demo("plain"))
		for _, mark := range []string{"<script", "<img", "<style", "<b>", "<!--", "onerror=alert(1)>", "<td", "<tr"} {
			if n, want := strings.Count(got, mark), strings.Count(plain, mark); n != want {
				t.Errorf("%q makes %d of %s, plain text %d", text, n, mark, want)
			}
		}
	}
}

// The policy of a page lets its own style and script work, and nothing else.
func TestPolicyHoldsOwnCode(t *testing.T) {
	got := html(t, demo("plain"))
	policy := regexp.MustCompile(`http-equiv="Content-Security-Policy" content="([^"]*)"`).FindStringSubmatch(got)[1]
	for _, kind := range []string{"style", "script"} {
		body := regexp.MustCompile(`(?s)<` + kind + `>(.*?)</` + kind + `>`).FindStringSubmatch(got)[1]
		sum := sha256.Sum256([]byte(body))
		want := "sha256-" + base64.StdEncoding.EncodeToString(sum[:])
		if !strings.Contains(strings.ReplaceAll(policy, "&#43;", "+"), want) {
			t.Errorf("policy %s has not %s of the %s", policy, want, kind)
		}
	}
	if !strings.Contains(policy, "default-src &#39;none&#39;") || strings.Contains(policy, "unsafe") || strings.Contains(policy, "connect-src") {
		t.Errorf("policy is %s", policy)
	}
	live := demo("plain")
	live.Live = "1"
	if !strings.Contains(html(t, live), "connect-src &#39;self&#39;") {
		t.Error("a live page may not ask its own server")
	}
	for _, never := range []string{"http://", "https://", "src=", "@import", "url("} {
		if strings.Contains(strings.ReplaceAll(got, "http://www.w3.org/2000/svg", ""), never) {
			t.Errorf("the page has %s: it may name no other place", never)
		}
	}
}

// Rows carry their subject, numbers the value that they sort by.
func TestRows(t *testing.T) {
	got := html(t, demo("plain"))
	for _, want := range []string{`<tr data-id="plain" tabindex="-1">`, `<td data-v="12.34567">12.3</td>`, `<td>-</td>`, `<th scope="col" class="text key">pack</th>`} {
		if !strings.Contains(got, want) {
			t.Errorf("page has not %s", want)
		}
	}
}

// Drawings stand in their order, each for a page and for a phone under names of its own; those that are not there leave
// no gap.
func TestDrawingsAreNumbered(t *testing.T) {
	of := func(id string) *draw.Drawing {
		return draw.Labels(id, []draw.LabelledPack{{ID: id, RatedMilliAmpHours: 500, DeliveredMilliAmpHours: 450}})
	}
	p := demo("plain")
	p.Sections[0].Drawings = []*draw.Drawing{of("a"), nil, of("b")}
	p.Sections = append(p.Sections, page.Section{ID: "two", Title: "Two", Drawings: []*draw.Drawing{nil, of("c")}}, page.Section{ID: "three", Drawings: []*draw.Drawing{nil}})
	got := html(t, p)
	var order []string
	for _, m := range regexp.MustCompile(`aria-labelledby="(drawing[^ "]*)-title |<(div class="drawings)"`).FindAllStringSubmatch(got, -1) {
		order = append(order, m[1]+m[2])
	}
	want := "div class=\"drawings drawing-1 drawing-1-phone drawing-2 drawing-2-phone div class=\"drawings drawing-3 drawing-3-phone"
	if strings.Join(order, " ") != want {
		t.Errorf("%s, want %s", strings.Join(order, " "), want)
	}
	for _, mark := range []string{`viewBox="0 0 760 `, `viewBox="0 0 343 `} {
		if n := strings.Count(got, mark); n != 3 {
			t.Errorf("%d of %s, want 3", n, mark)
		}
	}
}

// The style sheet has the colours of both themes, the drawings' rules and the page's own; the script is there.
func TestStyleAndScript(t *testing.T) {
	got := html(t, demo("plain"))
	style := regexp.MustCompile(`(?s)<style>(.*?)</style>`).FindStringSubmatch(got)[1]
	for _, want := range []string{draw.Variables(draw.Light), draw.Variables(draw.Dark), draw.Rules(), "@media print", "prefers-color-scheme:dark"} {
		if !strings.Contains(style, want) {
			t.Errorf("no %.60s in the style sheet", want)
		}
	}
	if script := regexp.MustCompile(`(?s)<script>(.*?)</script>`).FindStringSubmatch(got)[1]; !strings.Contains(script, "addEventListener") {
		t.Errorf("the script is %.60q", script)
	}
}

// A column that screens drop early is spared on a phone, and only rows of subjects carry one.
func TestClassesOfColumns(t *testing.T) {
	for _, c := range []struct {
		column sheet.Column
		want   string
	}{
		{sheet.Column{Key: "g"}, ""},
		{sheet.Column{Key: "g", Keep: 11}, ""},
		{sheet.Column{Key: "g", Keep: 12}, "spare"},
		{sheet.Column{Key: "pack", Left: true, Keep: 13}, "text key spare"},
		{sheet.Column{Key: "why", Left: true, Wrap: true}, "text long"},
	} {
		if got := (page.Table{Subject: "pack"}).Class(c.column); got != c.want {
			t.Errorf("%+v: %q, want %q", c.column, got, c.want)
		}
	}
	if got := (page.Table{}).Class(sheet.Column{}); got != "" {
		t.Errorf("%q", got)
	}
	table := &sheet.Table{Columns: []sheet.Column{{Key: "a"}, {Key: ""}, {Key: "b"}}}
	table.Add(sheet.Word("x"), sheet.Word("y"), sheet.Word("z"))
	for subject, want := range map[string]string{"": "", "a": "x", "b": "z", "c": ""} {
		line := page.Table{Table: table, Subject: subject}.Lines()[0]
		if line.ID != want || len(line.Cells) != 3 || line.Cells[2].Text != "z" {
			t.Errorf("%q: %+v", subject, line)
		}
	}
}

// Notes are put before those of the section that is named, and of no other.
func TestAddNotes(t *testing.T) {
	p := &page.Page{Sections: []page.Section{{ID: "a", Notes: []string{"1"}}, {ID: "b", Notes: []string{"2"}}}}
	p.Add("b", []string{"x", "y"})
	p.Add("c", []string{"z"})
	if got := strings.Join(p.Sections[0].Notes, " "); got != "1" {
		t.Errorf("%q", got)
	}
	if got := strings.Join(p.Sections[1].Notes, " "); got != "x y 2" {
		t.Errorf("%q", got)
	}
}
