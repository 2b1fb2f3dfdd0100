package main

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"

	"github.com/spf13/pflag"

	"allup/catalog"
	"allup/cmd/allup/internal/draw"
	"allup/cmd/allup/internal/sheet"
	"allup/model"
	"allup/planner/tested"
)

// drawingFlags ask for drawings in files beside an answer.
type drawingFlags struct {
	folder string
	dark   bool
}

func (d *drawingFlags) register(flags *pflag.FlagSet) {
	flags.StringVar(&d.folder, "drawings", "", "write each drawing as SVG and PNG into a `FOLDER`: for a page, a phone and a video frame")
	flags.BoolVar(&d.dark, "dark", false, "with --drawings: pictures on a dark background")
}

// of makes the drawings where they were asked for: there may be a mark for each pack of a large catalogue in them.
func (d *drawingFlags) of(list func() []*draw.Drawing) []*draw.Drawing {
	if d.folder == "" {
		return nil
	}
	return list()
}

// picture is a PNG of a drawing.
type picture struct {
	suffix string
	width  float64 // in points
	height float64 // 0 for what the drawing wants
	scale  int     // pixels to a point
}

// pictures are the sizes that a drawing is written in: text stays readable in each.
func pictures() []picture {
	return []picture{{"page", 760, 0, 2}, {"phone", 360, 0, 3}, {"video", 960, 540, 2}} // 1520 wide, 1080 wide, 1920 x 1080
}

// What a terminal has at least for drawings in its answers, and what these take of it at most.
const (
	pictureLeast = 100
	pictureMost  = 120
)

// pictured is a screen with a small drawing, where that is for a terminal wide enough for it. The drawing may be nil.
func (a *app) pictured(s sheet.Screen, picture func() *draw.Drawing) sheet.Screen {
	if a.format == formatTable && a.outFile == "" && a.outTerminal && a.width >= pictureLeast && len(a.columns) == 0 {
		if d := picture(); d != nil {
			s.Picture = d.Text(min(a.width, pictureMost), a.utf8)
		}
	}
	return s
}

// highAndLow are the packs of a bench whose mid voltage per cell is the highest and the lowest: more curves are
// not told apart in characters.
func highAndLow(packs []tested.ReducedPack) []tested.ReducedPack {
	var list []tested.ReducedPack
	for _, p := range packs {
		if p.Discharge != nil {
			list = append(list, p)
		}
	}
	if len(list) < 3 {
		return list
	}
	mid := func(a, b tested.ReducedPack) int {
		return cmp.Compare(a.Metrics.MidVoltage/model.Voltage(a.Bench.Cells), b.Metrics.MidVoltage/model.Voltage(b.Bench.Cells))
	}
	return []tested.ReducedPack{slices.MaxFunc(list, mid), slices.MinFunc(list, mid)}
}

// artefacts are files to be written beside an answer, checked and ready, and the folder that is made for them, if any.
type artefacts struct {
	folder string
	files  []catalog.NewFile
}

func (w artefacts) names() []string {
	var names []string
	for _, f := range w.files {
		names = append(names, f.Name)
	}
	return names
}

// inFolder are files for a folder, by names that are to stand in it.
func inFolder(folder string, files []catalog.NewFile) (artefacts, error) {
	for i := range files {
		f := &files[i]
		// Names are made of ids, which have no separators; nothing leaves the folder even if one had.
		if f.Name != filepath.Base(f.Name) || strings.HasPrefix(f.Name, ".") {
			return artefacts{}, fmt.Errorf("%q is not the name of a file in a folder", f.Name)
		}
		f.Name = filepath.Join(folder, f.Name)
	}
	return artefacts{folder, files}, nil
}

// draw makes the files of drawings where they were asked for.
func (a *app) draw(d drawingFlags, list []*draw.Drawing) (artefacts, error) {
	if d.folder == "" {
		if d.dark {
			return artefacts{}, usagef("--dark goes with --drawings")
		}
		return artefacts{}, nil
	}
	var files []catalog.NewFile
	taken := map[string]bool{}
	for _, drawing := range list {
		if drawing == nil {
			continue
		}
		name := drawing.Name
		for n := 2; taken[name]; n++ {
			name = fmt.Sprintf("%s-%d", drawing.Name, n)
		}
		taken[name] = true
		files = append(files, catalog.NewFile{Name: name + ".svg", Data: []byte(drawing.File(drawing.At(760)))})
		for _, p := range pictures() {
			files = append(files, catalog.NewFile{Name: name + "-" + p.suffix + ".png"})
		}
	}
	set, err := inFolder(d.folder, files)
	if err != nil {
		return artefacts{}, err
	}
	// Before the work of drawing, and before anything is written.
	if err := a.checkFolder("--drawings", set); err != nil {
		return artefacts{}, err
	}
	return set, paint(set.files, list, d.dark)
}

// paint draws the pictures of files, on all processors.
func paint(files []catalog.NewFile, list []*draw.Drawing, dark bool) error {
	theme := draw.Light
	if dark {
		theme = draw.Dark
	}
	each := 1 + len(pictures())
	errs := make([]error, len(files))
	var wg sync.WaitGroup
	slots := make(chan struct{}, runtime.GOMAXPROCS(0))
	at := 0
	for _, drawing := range list {
		if drawing == nil {
			continue
		}
		for i, p := range pictures() {
			n := at + 1 + i
			slots <- struct{}{}
			wg.Go(func() {
				defer func() { <-slots }()
				size := drawing.At(p.width)
				if p.height > 0 {
					size.Height = p.height
				}
				var b bytes.Buffer
				errs[n] = drawing.PNG(&b, size, p.scale, theme)
				files[n].Data = b.Bytes()
			})
		}
		at += each
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return fmt.Errorf("drawing: %w", err)
		}
	}
	return nil
}

// checkFolder refuses, before anything is written, files that may not be.
func (a *app) checkFolder(flag string, w artefacts) error {
	info, err := os.Stat(w.folder)
	if err == nil && !info.IsDir() {
		return usagef("%s %s is a file: give a folder", flag, w.folder)
	}
	if err != nil {
		return nil // the folder is made, and nothing is in it
	}
	for _, name := range w.names() {
		if err := a.keep(flag, name); err != nil {
			return err
		}
		if a.outFile != "" && sameTarget(name, a.outFile) {
			return usagef("--out and %s are both %s; give two names", flag, name)
		}
		if err := catalog.CheckWrite(name, a.force); err != nil {
			return err
		}
	}
	return nil
}

// beside writes files that go with an answer, and makes their folders. Where the answer goes to a file they wait for
// it, and are written with it.
func (a *app) beside(list ...artefacts) error {
	for _, w := range list {
		if w.folder != "" && len(w.files) > 0 {
			a.folders = append(a.folders, w.folder)
		}
		for _, f := range w.files {
			for _, other := range a.waiting {
				if filepath.Base(f.Name) == filepath.Base(other.Name) && sameTarget(f.Name, other.Name) {
					return usagef("two of the files to be written are both %s; give two names", f.Name)
				}
			}
			a.waiting = append(a.waiting, f)
		}
	}
	if a.outFile != "" {
		return nil
	}
	return a.writeFiles()
}

// writeFiles writes what waits to be written: all of it, or nothing that is new, the last one last. A program that is
// killed without a signal that it hears can leave the first of them without the others; each is whole, and hidden
// files of the name .allup-... may be left beside them until something is written there an hour later.
func (a *app) writeFiles() (err error) {
	if len(a.waiting) == 0 {
		return nil
	}
	set, folders := a.waiting, a.folders
	a.waiting, a.folders = nil, nil
	var made []string
	defer func() {
		for i := len(made) - 1; err != nil && i >= 0; i-- {
			os.Remove(made[i]) // which fails where somebody has put something in it
		}
	}()
	for _, folder := range folders {
		made = append(made, missing(folder)...)
		if err := os.MkdirAll(folder, 0o755); err != nil {
			return err
		}
	}
	return catalog.WriteFiles(set, a.force)
}

// missing are the folders that have to be made for one to be there, the outermost first.
func missing(folder string) []string {
	if _, err := os.Stat(folder); !errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return append(missing(filepath.Dir(folder)), folder)
}
