package main

import (
	"bytes"
	"context"
	_ "embed"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
)

// The checks that run inside the browser. Each returns what is wrong, one
// line a finding.
//
//go:embed report_browser_test.js
var browserChecks string

// browser is a Chromium that the tests share.
type browser struct {
	context.Context
	mutex    sync.Mutex
	requests []string
}

// newBrowser starts Debian's Chromium, or skips the test where there is none.
func newBrowser(t *testing.T) *browser {
	t.Helper()
	if testing.Short() {
		t.Skip("the browser takes seconds, so it is left out of a short run")
	}
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("no chromium here, so the report is not opened in a browser")
	}
	options := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(path))
	if os.Getuid() == 0 {
		options = append(options, chromedp.NoSandbox)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewExecAllocator(ctx, options...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	b := &browser{Context: ctx}
	if err := chromedp.Listen(ctx, func(event any) {
		if request, ok := event.(*network.EventRequestWillBeSent); ok {
			b.mutex.Lock()
			defer b.mutex.Unlock()
			b.requests = append(b.requests, request.Request.URL)
		}
	}); err != nil {
		t.Fatal(err)
	}
	return b
}

func (b *browser) do(t *testing.T, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(b, steps...); err != nil {
		t.Fatal(err)
	}
}

// media makes the browser take the page for a screen or for paper.
func (b *browser) media(t *testing.T, media, scheme string) {
	t.Helper()
	_, err := chromedp.Call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: media,
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
	if err != nil {
		t.Fatal(err)
	}
}

func evaluate[T any](t *testing.T, b *browser, expression string) T {
	t.Helper()
	value, err := chromedp.Run(b, chromedp.Evaluate[T](expression))
	if err != nil {
		t.Fatalf("%s: %v", expression, err)
	}
	return value
}

// findings runs checks inside the page.
func (b *browser) findings(t *testing.T, where string, checks ...string) {
	t.Helper()
	for _, check := range checks {
		found := evaluate[[]string](t, b, "("+browserChecks+")."+check+"()")
		for i, finding := range found {
			if i == 10 {
				t.Errorf("%s, %s: %d more", where, check, len(found)-i)
				break
			}
			t.Errorf("%s, %s: %s", where, check, finding)
		}
	}
}

// writtenReport writes the report of a notebook into a file.
func writtenReport(t *testing.T, name string, args ...string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), name)
	status, out, errOut := obey(append([]string{"report", "-o", file}, args...)...)
	if status == exitWrong || out != "" {
		t.Fatalf("report %q: status %d\n%s%s", args, status, out, errOut)
	}
	return file
}

// TestReportInABrowser opens reports as a reader would: on a phone, on a desk,
// in the dark, and on paper.
func TestReportInABrowser(t *testing.T) {
	b := newBrowser(t)
	for _, page := range []struct {
		name, file       string
		tables, pictures int // at least
	}{
		{"press", writtenReport(t, "press.html", "--example"), 20, 7},
		{"fault", writtenReport(t, "fault.html", "../../testdata/faults/worn-pump"), 22, 7},
		{"hostile", writtenReport(t, hostileFile, hostileNotebook(t)), 4, 2},
	} {
		address := "file://" + (&urlPath{page.file}).escaped()
		b.requests = nil
		for _, view := range []struct {
			where, media, scheme string
			width                int64
		}{
			{"a phone", "screen", "light", 390},
			{"a desk in the dark", "screen", "dark", 1280},
			{"A4 less its margins", "print", "dark", 680},
			{"Letter less its margins", "print", "light", 702},
		} {
			where := page.name + " on " + view.where
			b.media(t, view.media, view.scheme)
			b.do(t, chromedp.EmulateViewport(view.width, 1000), chromedp.Navigate(address))
			b.findings(t, where, "overflow", "overlap", "contrast")
			const told = "document.querySelector('.onpaper').getClientRects().length > 0"
			if shown := evaluate[bool](t, b, told); shown != (view.media == "print") {
				t.Errorf("%s: that folded derivations are not printed is told: %t", where, shown)
			}
			if evaluate[bool](t, b, "document.querySelectorAll('section details').forEach(d => d.open = true), "+told) {
				t.Errorf("%s: nothing is folded any more, but still told not to be printed", where)
			}
			if view.width == 1280 {
				b.findings(t, where, "structure", "names")
				if n := evaluate[int](t, b, "document.querySelectorAll('table').length"); n < page.tables {
					t.Errorf("%s: %d tables, want at least %d", where, n, page.tables)
				}
				n := evaluate[int](t, b, "document.querySelectorAll('figure svg[role=img]').length")
				if n < page.pictures {
					t.Errorf("%s: %d charts, want at least %d", where, n, page.pictures)
				}
			}
		}
		b.do(t, chromedp.Navigate(address))
		for name, paper := range map[string]chromedp.PaperSize{"A4": chromedp.PaperA4, "Letter": chromedp.PaperLetter} {
			pdf, err := chromedp.Run(b, chromedp.PrintToPDF(chromedp.PDFPaper(paper), chromedp.PDFPrintBackground()))
			if err != nil {
				t.Fatalf("%s on %s: %v", page.name, name, err)
			}
			checkPDF(t, page.name+" on "+name, pdf, paper)
		}
		b.mutex.Lock()
		for _, request := range b.requests {
			if request != address {
				t.Errorf("%s asks for %s", page.name, request)
			}
		}
		if len(b.requests) == 0 {
			t.Errorf("%s: no request was seen, so nothing is proven", page.name)
		}
		b.mutex.Unlock()
	}
}

// checkPDF checks that a printed report has pages, and with pdftotext at hand
// that each word lies inside the margins of its page.
func checkPDF(t *testing.T, where string, pdf []byte, paper chromedp.PaperSize) {
	t.Helper()
	if !bytes.HasPrefix(pdf, []byte("%PDF-")) || len(pdf) < 10_000 {
		t.Errorf("%s: no PDF, %d bytes", where, len(pdf))
		return
	}
	path, err := exec.LookPath("pdftotext")
	if err != nil {
		return
	}
	command := exec.Command(path, "-bbox", "-", "-")
	command.Stdin = bytes.NewReader(pdf)
	words, err := command.Output()
	if err != nil {
		t.Fatal(err)
	}
	const margin = 15 / 25.4 * 72 // in points, as the style sheet has it
	pages, n := bytes.Count(words, []byte("<page ")), 0
	for line := range strings.Lines(string(words)) {
		var left, top, right, bottom float64
		line = strings.TrimSpace(line)
		if _, err := fmt.Sscanf(line, `<word xMin="%f" yMin="%f" xMax="%f" yMax="%f">`, &left, &top, &right,
			&bottom); err != nil {
			continue
		}
		n++
		if left < margin-1 || right > paper.Width*72-margin+3 {
			t.Errorf("%s: a word reaches into the margin: %s", where, line)
		}
	}
	if pages < 3 || n < 300 {
		t.Errorf("%s: %d pages with %d words", where, pages, n)
	}
}

// TestHostileTextInABrowser checks that what was typed into a notebook is
// shown as it was typed, and does nothing.
func TestHostileTextInABrowser(t *testing.T) {
	b := newBrowser(t)
	address := "file://" + (&urlPath{writtenReport(t, "page.html", hostileNotebook(t))}).escaped()
	b.do(t, chromedp.Navigate(address))
	if evaluate[bool](t, b, "'hacked' in window") {
		t.Error("a text of the notebook ran as a script")
	}
	if n := evaluate[int](t, b, "document.querySelectorAll('script, img, iframe, object, embed, link, form, base, "+
		"image, use, foreignObject').length"); n != 0 {
		t.Errorf("texts of the notebook became %d elements", n)
	}
	text := evaluate[string](t, b, "document.documentElement.textContent")
	if n := strings.Count(text, hostile); n < 8 {
		t.Errorf("the hostile text is shown %d times, want at least 8", n)
	}
}
