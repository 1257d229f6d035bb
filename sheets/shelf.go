package sheets

import (
	"hash/maphash"
	"sync"
)

// Shelf reads notebooks that have sheets in common: those of a floor mostly are of one
// starter, in which each machine has numbers of its own in a few sheets. A sheet that
// stands in several with the same bytes is read once. To read takes a tenth of a check.
type Shelf struct {
	lock sync.Mutex
	met  map[uint64]*Sheet // by a hash of the bytes; nil once they have been met, the sheet from then on
	seed maphash.Seed
}

// NewShelf makes an empty shelf.
func NewShelf() *Shelf { return &Shelf{met: map[uint64]*Sheet{}, seed: maphash.MakeSeed()} }

// mostMet keeps thousands of notebooks from holding memory for what each of them has alone.
const mostMet = 1 << 16

// Open is [Open] of a notebook whose sheets nobody changes.
func (s *Shelf) Open(path string) (*Notebook, []Problem) {
	return open(&Notebook{Path: path, shelf: s})
}

// read is [Read] of a file that may have been met before; a nil shelf holds nothing. A
// sheet with anything to be told, which names its file, is not kept.
func (s *Shelf) read(file, text string) (*Sheet, []Problem) {
	if s == nil {
		return readText(file, text)
	}
	key := maphash.String(s.seed, text)
	s.lock.Lock()
	known, met := s.met[key]
	if !met && len(s.met) < mostMet {
		s.met[key] = nil
	}
	s.lock.Unlock()
	if known != nil && known.data == text {
		own := *known
		own.File, own.Name = file, SheetName(file)
		return &own, nil
	}
	sheet, problems := readText(file, text)
	if met && known == nil && sheet != nil && len(problems) == 0 && len(sheet.Warnings) == 0 && sheet.Kind != Log {
		s.lock.Lock()
		s.met[key] = sheet
		s.lock.Unlock()
	}
	return sheet, problems
}
