package fit

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"rambook/calc/tape"
	"rambook/units/cores"
	"rambook/units/sorting"
)

// Faults is what the readings of one case say of the givens that may be off.
// Numbers are SI.
type Faults struct {
	Readings int     // that take part
	Usable   bool    // they can be computed
	Misfit   float64 // with nothing freed
	Left     float64 // with all that was found freed
	Found    []Found // in the order freed
}

// Found is a given that was freed since the readings fit so much better with
// it.
type Found struct {
	Given    int // in Survey.Free
	Value, U float64
	AtEnd    bool  // the value is an end of its range
	Tied     []int // givens that would do as well in its place
}

const (
	// worthFreeing is how much a freed given has to take from the misfit: three
	// standard deviations, squared.
	worthFreeing = 9

	// tied is the difference of two misfits up to which the readings do not tell
	// their givens apart: two standard deviations, squared.
	tied = 4

	mostFreed  = 8
	mostSwaps  = 4
	scanPoints = 17 // evenly over a range
	nearPoints = 7  // to each side of where it stands, each half as far away as the one before
	mostStarts = 2  // hollows of one scan that are followed
	worthALook = 30 // how much worse than the best hollow another given's may be to be followed too
)

// Diagnose finds in each case the givens that its readings speak against: they
// are freed one after another while each takes more than 9 from the misfit, all
// that are freed being fitted together each time. One that is not worth it any
// more beside the others goes back, and one that another fits better in its
// place gives way.
func (s *Survey) Diagnose() []Faults {
	v := s.prepare(nil)
	d := &diagnosis{surveyor: v, values: s.valuesOnly(v)}
	now := make([]*stand, s.Cases)
	for at := range now {
		now[at] = &stand{at: at}
	}
	v.lookAll(now)
	out := make([]Faults, s.Cases)
	var active []*stand
	for at, st := range now {
		out[at] = Faults{Readings: st.n, Usable: st.usable, Misfit: st.misfit}
		if st.usable && st.n > 0 && st.misfit > worthFreeing {
			active = append(active, st)
		}
	}
	for range mostFreed {
		if active = d.freeOne(active); len(active) == 0 {
			break
		}
		d.takeBack(active)
	}
	var found []*stand
	for _, st := range now {
		if st.usable && len(st.set) > 0 {
			found = append(found, st)
		}
	}
	ties := map[int][][]int{}
	for range mostSwaps {
		if found = d.swap(found, ties); len(found) == 0 {
			break
		}
	}
	for at, st := range now {
		out[at].Left = st.misfit
		u := []float64(nil)
		if len(st.set) > 0 {
			u = v.uncertainties(st)
		}
		for a, k := range st.set {
			f := Found{Given: k, Value: st.x[a], U: u[a], AtEnd: st.x[a] <= v.Free[k].From || st.x[a] >= v.Free[k].To}
			if t := ties[at]; t != nil {
				f.Tied = t[a]
			}
			out[at].Found = append(out[at].Found, f)
		}
	}
	return out
}

// diagnosis is the search in all cases side by side.
type diagnosis struct {
	*surveyor
	values       *tape.Program // the readings alone
	steadyValues *tape.Worker
}

// valuesOnly plans runs that need no derivatives.
func (s *Survey) valuesOnly(v *surveyor) *tape.Program {
	var outputs []tape.Register
	for _, r := range s.Readings {
		outputs = append(outputs, r.Formula)
	}
	return tape.NewProgram(s.Tape, v.inputs, outputs, s.Base)
}

// freeOne frees one more given in each case where that is worth it, and returns
// those cases.
func (d *diagnosis) freeOne(active []*stand) []*stand {
	var scans []*scan
	for i, s := range active {
		for k := range d.Free {
			if !slices.Contains(s.set, k) {
				scans = append(scans, &scan{from: s, owner: i, given: k})
			}
		}
	}
	best := d.bestOf(scans, len(active))
	var still []*stand
	for i, s := range active {
		if b := best[i]; b != nil && s.misfit-b.misfit > worthFreeing {
			*s = *b
			still = append(still, s)
		}
	}
	return still
}

// bestOf follows the hollows that scans find, and returns the best fit for each
// owner, nil for none.
func (d *diagnosis) bestOf(scans []*scan, owners int) []*stand {
	stands, of := d.follow(scans, owners)
	best := make([]*stand, owners)
	for i, s := range stands {
		if b := best[of[i]]; s.usable && (b == nil || s.likelihood() < b.likelihood()) {
			best[of[i]] = s
		}
	}
	return best
}

// follow runs scans and refines what they find.
func (d *diagnosis) follow(scans []*scan, owners int) (stands []*stand, of []int) {
	d.scanAll(scans)
	least := slices.Repeat([]float64{math.Inf(1)}, owners)
	for _, c := range scans {
		for _, h := range c.hollows {
			least[c.owner] = math.Min(least[c.owner], h.misfit)
		}
	}
	for _, c := range scans {
		for _, h := range c.hollows {
			if h.misfit <= least[c.owner]+worthALook {
				stands, of = append(stands, h.start), append(of, c.owner)
			}
		}
	}
	d.refine(stands)
	return stands, of
}

// takeBack takes back what is not worth being freed beside the rest.
func (d *diagnosis) takeBack(active []*stand) {
	for {
		var without []*stand
		var of []int
		for i, s := range active {
			if len(s.set) < 2 {
				continue
			}
			for a := range len(s.set) - 1 { // the last one has just proved its worth
				without, of = append(without, s.without(a)), append(of, i)
			}
		}
		d.refine(without)
		best := make([]*stand, len(active))
		for m, s := range without {
			if b := best[of[m]]; s.usable && s.misfit-active[of[m]].misfit <= worthFreeing &&
				(b == nil || s.likelihood() < b.likelihood()) {
				best[of[m]] = s
			}
		}
		changed := false
		for i, b := range best {
			if b != nil {
				*active[i] = *b
				changed = true
			}
		}
		if !changed {
			return
		}
	}
}

// without is a stand with one freed given put back.
func (s *stand) without(a int) *stand {
	return &stand{at: s.at, set: slices.Delete(slices.Clone(s.set), a, a+1),
		x: slices.Delete(slices.Clone(s.x), a, a+1)}
}

// swap puts other givens in the place of each that was freed. It keeps those
// that fit better, returns the cases where one did, and notes which would do as
// well.
func (d *diagnosis) swap(found []*stand, ties map[int][][]int) []*stand {
	var without []*stand
	type slot struct{ owner, index int }
	var slots []slot
	for i, s := range found {
		ties[s.at] = make([][]int, len(s.set))
		for a := range s.set {
			without, slots = append(without, s.without(a)), append(slots, slot{i, a})
		}
	}
	d.refine(without)
	var scans []*scan
	for m, s := range without {
		if !s.usable {
			continue
		}
		freed := found[slots[m].owner]
		for k := range d.Free {
			if !slices.Contains(freed.set, k) {
				scans = append(scans, &scan{from: s, owner: m, given: k})
			}
		}
	}
	stands, of := d.follow(scans, len(without))
	better := make([]*stand, len(found))
	for m, s := range stands {
		at := slots[of[m]]
		now := found[at.owner]
		if !s.usable {
			continue
		}
		if b := better[at.owner]; s.misfit < now.misfit-1e-6 && s.likelihood() < now.likelihood()-1e-6 &&
			(b == nil || s.likelihood() < b.likelihood()) {
			better[at.owner] = s
		}
		k := s.set[len(s.set)-1]
		if list := &ties[now.at][at.index]; s.misfit <= now.misfit+tied && !slices.Contains(*list, k) {
			*list = append(*list, k)
		}
	}
	var changed []*stand
	for i, b := range better {
		if b != nil {
			*found[i] = *b
			changed = append(changed, found[i])
		}
	}
	return changed
}

// scan looks over the whole range of a given, beside what a stand has freed, so
// that the search is not caught in a hollow beside the deepest one.
type scan struct {
	from    *stand
	owner   int
	given   int
	grid    []float64
	first   int // row of its first point
	hollows []hollow
}

// hollow is a place where the misfit is least around.
type hollow struct {
	misfit float64
	start  *stand
}

// scanAll computes the readings along the ranges. Between two points they are
// taken to change evenly, and what is freed already may shift along; so the
// misfit between two points, least over both, is found without a run.
func (d *diagnosis) scanAll(scans []*scan) {
	rows := 0
	for _, c := range scans {
		f := &d.Free[c.given]
		c.grid = f.grid(f.clamp(d.standsAt(c.given, c.from.at)), scanPoints, nearPoints)
		c.first = rows
		rows += len(c.grid)
	}
	n := len(d.Readings)
	computed := make([]float64, rows*n)
	owner := make([]int32, rows)
	for i, c := range scans {
		for g := range c.grid {
			owner[c.first+g] = int32(i)
		}
	}
	runBlocks(d.values, &d.steadyValues, rows, func(b *tape.Block) {
		for i := range b.N {
			c := scans[owner[b.First+i]]
			d.fill(b, i, c.from.at)
			for a, k := range c.from.set {
				b.In[d.moved[d.Free[k].Input]][i] = c.from.x[a]
			}
			b.In[d.moved[d.Free[c.given].Input]][i] = c.grid[b.First+i-c.first]
		}
	}, func(b *tape.Block) {
		for i := range b.N {
			for j := range n {
				computed[(b.First+i)*n+j] = b.Out[j][i]
			}
		}
	})
	cores.EachOf(len(scans), 16, func(i int) { d.hollows(scans[i], computed) })
}

// grid lists the values at which a given is tried first, rising: evenly over its
// range, and closer and closer around where it stands, since a fault may be small
// against the range.
func (f *Free) grid(stands float64, even, around int) []float64 {
	x := floats.Span(make([]float64, even), f.From, f.To)
	x = append(x, stands)
	step := f.width() / float64(even)
	for range around {
		step /= 2
		for _, at := range []float64{stands - step, stands + step} {
			if f.From < at && at < f.To {
				x = append(x, at)
			}
		}
	}
	slices.Sort(x)
	return slices.Compact(x)
}

// standsAt is the value that a given has in a case while it is not freed.
func (d *diagnosis) standsAt(given, at int) float64 {
	for _, c := range d.Replaced {
		if c.Input == d.Free[given].Input && !tape.IsMissing(c.Values[at]) {
			return c.Values[at]
		}
	}
	return d.base[d.Free[given].Input]
}

// hollows finds where along a scan the misfit is least.
func (d *diagnosis) hollows(c *scan, computed []float64) {
	s, n := c.from, len(d.Readings)
	basis := s.basis()
	points := make([][]float64, len(c.grid))
	for g := range c.grid {
		points[g] = d.projected(s, basis, computed[(c.first+g)*n:(c.first+g+1)*n])
	}
	type start struct{ misfit, x float64 }
	var places []start
	for g, p := range points {
		if p == nil {
			continue
		}
		here := start{floats.Dot(p, p), c.grid[g]}
		if g+1 < len(points) && points[g+1] != nil {
			along := make([]float64, len(p))
			floats.SubTo(along, points[g+1], p)
			if length := floats.Dot(along, along); length > 0 {
				share := clamp(-floats.Dot(p, along)/length, 0, 1)
				floats.AddScaledTo(along, p, share, along)
				here = start{floats.Dot(along, along), c.grid[g] + share*(c.grid[g+1]-c.grid[g])}
			}
		}
		places = append(places, here)
	}
	var least []start
	for i, p := range places {
		if (i == 0 || p.misfit <= places[i-1].misfit) && (i+1 == len(places) || p.misfit <= places[i+1].misfit) {
			least = append(least, p)
		}
	}
	sorting.Stable(least, func(a, b start) int { return cmp.Compare(a.misfit, b.misfit) })
	for _, p := range least[:min(mostStarts, len(least))] {
		c.hollows = append(c.hollows, hollow{p.misfit,
			&stand{at: s.at, set: append(slices.Clone(s.set), c.given), x: append(slices.Clone(s.x), p.x)}})
	}
}

// basis spans, at right angles, how the readings move with what is freed.
func (s *stand) basis() [][]float64 {
	var basis [][]float64
	for _, k := range s.set {
		v := make([]float64, s.n)
		for i := range v {
			v[i] = s.white.Data[i*s.white.Stride+1+k]
		}
		whole := floats.Norm(v, 2)
		for range 2 { // a second time for what rounding has left
			for _, b := range basis {
				floats.AddScaled(v, -floats.Dot(b, v), b)
			}
		}
		if length := floats.Norm(v, 2); length > 1e-8*whole {
			floats.Scale(1/length, v)
			basis = append(basis, v)
		}
	}
	return basis
}

// projected is what remains of the residuals, whitened, when what is freed is
// shifted along; nil where the model has no answer.
func (d *diagnosis) projected(s *stand, basis [][]float64, computed []float64) []float64 {
	w := make([]float64, 0, s.n)
	for j, scale := range s.scale {
		if scale == 0 {
			continue
		}
		r := scale * (d.Readings[j].Values[s.at] - computed[j])
		if !tape.Usable(r) {
			return nil
		}
		w = append(w, r)
	}
	for i := range w { // L·w = r
		row := s.lower.Data[i*s.lower.Stride : i*s.lower.Stride+i+1]
		for k, x := range row[:i] {
			w[i] -= x * w[k]
		}
		w[i] /= row[i]
	}
	for _, b := range basis {
		floats.AddScaled(w, -floats.Dot(b, w), b)
	}
	return w
}
