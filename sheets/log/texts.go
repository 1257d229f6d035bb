package log

import (
	"bytes"
	"sync"
)

// Texts are the different texts of a column, each with its number. Many
// goroutines may add to them; in which order they do is not fixed.
type Texts struct {
	mutex sync.Mutex
	list  []string
	index map[string]int
}

const mostTexts = 1_000_000

// Of gives the text with a number.
func (t *Texts) Of(v float64) string {
	t.mutex.Lock()
	defer t.mutex.Unlock()
	if i := int(v); v == v && i >= 0 && i < len(t.list) {
		return t.list[i]
	}
	return ""
}

func (t *Texts) add(text []byte) (int, bool) {
	t.mutex.Lock()
	defer t.mutex.Unlock()
	if i, known := t.index[string(text)]; known {
		return i, true
	}
	if len(t.list) == mostTexts {
		return 0, false
	}
	if t.index == nil {
		t.index = map[string]int{}
	}
	t.list = append(t.list, string(text))
	t.index[string(text)] = len(t.list) - 1
	return len(t.list) - 1, true
}

// lastText spares looking up a text that the row before had too.
type lastText struct {
	text   []byte
	number float64
	known  bool
}

func (l *lastText) index(all *Texts, text []byte) (float64, bool) {
	if l.known && bytes.Equal(text, l.text) {
		return l.number, true
	}
	i, ok := all.add(text)
	l.text, l.number, l.known = text, float64(i), ok
	return l.number, ok
}
