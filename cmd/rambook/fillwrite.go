package main

import (
	"cmp"
	"time"

	"rambook/calc"
	"rambook/sheets"
)

// write puts an answer into the notebook, with its line in the logbook.
func (w *walk) write(q *question, a response) error {
	settings := []setting{{cellName: q.cell, entry: a.entry}}
	if _, isRow := q.cell.(rowCell); isRow && a.why != "" {
		settings = append(settings, setting{cellName: rowCell{q.quantity.Name, "note"}, entry: withReason(q.note, a.why)})
	}
	if q.date != nil {
		settings = append(settings, setting{cellName: q.date, entry: w.now().Format(time.DateOnly)})
	}
	if err := w.writeAll(settings, a.note, func(after *calc.Report) error {
		if a.sure {
			return nil
		}
		if err := doubtThousands(settings, after); err != nil {
			return err
		}
		if err := doubtReadings(settings, after); err != nil {
			return err
		}
		if err := w.revision.doubtExample(q, a); err != nil {
			return err
		}
		if err := doubtAbsent(q, a); err != nil {
			return err
		}
		if err := w.revision.doubtImpossible(settings, after); err != nil {
			return err
		}
		return doubtChoice(q, a, w.revision.model)
	}); err != nil {
		return err
	}
	if a.absent {
		w.absent++
	} else {
		w.answered++
	}
	w.tellResult(q, a, w.revision)
	if text := settings[0].replaced(); text != "" {
		w.say(4, text)
	}
	return w.goOn()
}

// writeAll changes cells together and enters them in the logbook; doubts, which
// may be nil, may refuse what comes of it.
func (w *walk) writeAll(settings []setting, note string, doubts func(after *calc.Report) error) error {
	if err := w.catchUp(); err != nil {
		return err
	}
	r := w.revision
	changing, err := sheetsOf(settings, r)
	if err != nil {
		return err
	}
	by := w.command.entryFlags
	by.Note = cmp.Or(note, by.Note)
	r.enters(w.session, by, func() []sheets.Entry { return logged(settings, r.book) })
	r.verify = func(after *calc.Report) error {
		if err := r.refuseUnknown(entries(settings)); err != nil || doubts == nil {
			return err
		}
		return doubts(after)
	}
	return r.change(changing, func(now *sheets.Sheet, data []byte) ([]byte,
		error) {
		return write(settings, now, data)
	})
}
