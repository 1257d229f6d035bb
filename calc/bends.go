package calc

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"

	"gonum.org/v1/gonum/mat"

	"rambook/calc/tape"
	"rambook/sheets"
)

// A derivative only follows the straight line through the value. Where the
// spread of the inputs reaches across a corner (of min, a comparison, a curve)
// or so far that the formula bends, a verdict that is read off the line may be
// wrong. A probe finds these verdicts and judges them by sampling: pass and fail
// stand only if the samples bear them out.
//
// It looks in three steps, each only where the one before gave cause. Corners are
// found from their distances, which are on the tape beside the derivatives. A
// few samples in pairs, on either side of the value, show what bends. What either
// concerns is sampled until its verdict is clear.
type probe struct {
	model   *Model
	tape    *tape.Tape // of the run that is probed
	judged  []judgement
	names   []*Quantity
	kinks   []tape.Kink
	reached []kinkGroup

	inputs  []tape.Register          // all with a spread, and what varies from case to case, in the order of the tape
	spreads []tape.Register          // of the inputs; tape.None
	base    []float64                // the values of the model's operations
	screens func() *tape.Program     // from the inputs to what there is of each quantity that may bend, see facetsIn
	early   bent                     // of a run of one block, found while its derivatives were; nil if not
	samples samplers                 // of the quantities that were sampled before
	brief   bool                     // an unsure verdict is left as it is
	quiet   bool                     // what has no verdict is not looked at
	workers tape.Spare[*tape.Worker] // that screen
	pairs   [][]float64              // by input, in units of its standard uncertainty
	root    *mat.TriDense            // of the correlations of the inputs; nil for none
	bends   []bool                   // by judged quantity: it has a limit, and one of the two is no straight line
}

const (
	screened  = 8 // pairs of samples that show what bends
	facetsIn  = 4 // value, low, high and the reading's gauge's error: what the program yields of a quantity
	probeSeed = 1

	firstStage  = 3  // blocks of samples that are drawn in any case,
	secondStage = 32 // and where these leave the verdict open
)

// stages are how many samples are drawn until a verdict is clear. The first is
// enough to pass what never goes beyond a limit.
var stages = [...]int{firstStage * tape.BlockSize, secondStage * tape.BlockSize, 256 * tape.BlockSize}

// probing prepares to probe runs of some judgements, of which names are the quantities.
// seeds are the spreads of the inputs, varied the givens that the run replaces in each
// of its cases. What needs no derivative can be asked of it before it is [probe.across].
func (m *Model) probing(judged []judgement, names []*Quantity, seeds map[tape.Register]tape.Register,
	varied []tape.Register, base []float64, cases int) *probe {
	p := &probe{model: m, judged: judged, names: names, base: base, bends: make([]bool, len(judged))}
	for r := range seeds {
		p.inputs = append(p.inputs, r)
	}
	bent := m.tape.Bent(p.inputs)
	for i := range judged {
		j := &judged[i]
		value, low, high := j.at[theValue], j.at[theLow], j.at[theHigh]
		p.bends[i] = (low != tape.None || high != tape.None) && (bent(value) || bent(low) || bent(high))
	}
	p.inputs = append(p.inputs, varied...)
	slices.Sort(p.inputs)
	p.inputs = slices.Compact(p.inputs)
	for _, r := range p.inputs {
		spread, found := seeds[r]
		if !found {
			spread = tape.None
		}
		p.spreads = append(p.spreads, spread)
	}
	p.root, _ = m.tape.Ties.Root(p.inputs)
	p.screens = sync.OnceValue(p.screening)
	p.workers.New = func() *tape.Worker { return p.screens().NewWorker(samplesOf * min(cases, screenedAtOnce)) }
	return p
}

// screening makes the program that screens, and draws the pairs that it is run with.
func (p *probe) screening() *tape.Program {
	outputs := make([]tape.Register, 0, facetsIn*len(p.judged))
	for i := range p.judged {
		at := [facetsIn]tape.Register{tape.None, tape.None, tape.None, tape.None}
		if p.bends[i] {
			at = p.judged[i].sampledAt()
		}
		outputs = append(outputs, at[:]...)
	}
	g := rand.New(rand.NewPCG(probeSeed, 0))
	drawn := make([]float64, screened*len(p.inputs))
	for i := range drawn {
		drawn[i] = g.NormFloat64()
	}
	for k := range p.inputs {
		p.pairs = append(p.pairs, drawn[screened*k:][:screened])
	}
	correlate(p.root, p.pairs)
	return tape.NewProgram(p.model.tape, p.inputs, outputs, p.base).Around()
}

// across adds the corners of a run to its probe; nil where nothing can be judged
// otherwise.
func (p *probe) across(d *differentiated) *probe {
	p.tape, p.kinks = d.Tape, p.model.kinksOf(d, p.judged)
	p.reached = make([]kinkGroup, (len(p.kinks)+kinksInGroup-1)/kinksInGroup)
	if len(p.kinks) == 0 && !slices.Contains(p.bends, true) {
		return nil
	}
	return p
}

// sampledAt lists the registers whose values samples judge a quantity by.
func (j *judgement) sampledAt() [facetsIn]tape.Register {
	return [...]tape.Register{j.at[theValue], j.at[theLow], j.at[theHigh], j.offset()}
}

// registers lists what the probed run has to put out for the probe.
func (p *probe) registers() []tape.Register {
	var list []tape.Register
	for _, k := range p.kinks {
		list = append(list, k.Distance, k.Spread)
	}
	return append(list, p.doubts()...)
}

// doubts are the inputs, and then their spreads.
func (p *probe) doubts() []tape.Register { return slices.Concat(p.inputs, p.spreads) }

// kinkGroup is which operations depend on which of some corners.
type kinkGroup struct {
	once sync.Once
	on   []uint64 // by register, a bit for each corner
}

const kinksInGroup = 64

// dependence finds out what depends on the corners of a group.
func (p *probe) dependence(group int) []uint64 {
	g := &p.reached[group]
	g.once.Do(func() {
		t := p.model.tape
		g.on = make([]uint64, len(t.Ops))
		for k := group * kinksInGroup; k < min(len(p.kinks), (group+1)*kinksInGroup); k++ {
			g.on[p.kinks[k].At] |= 1 << (k % kinksInGroup)
		}
		var operands []tape.Register
		for i := range t.Ops {
			operands = t.Operands(&t.Ops[i], operands[:0])
			for _, r := range operands {
				g.on[i] |= g.on[r]
			}
		}
	})
	return g.on
}

// block is what a probe sees of a block of cases.
type probedBlock struct {
	*probe
	*tape.Block
	out    [][]float64 // the outputs that registers lists
	center [][]float64 // by input
	u      [][]float64 // by input: standard uncertainties; nil for none
}

// look prepares to probe a block of the run; at is where the outputs stand that
// registers lists. It is nil if no input of any of the cases has a spread.
func (p *probe) look(b *tape.Block, at int) *probedBlock {
	if p == nil {
		return nil
	}
	s := p.scattered(b, b.Out[at+2*len(p.kinks):])
	if s != nil {
		s.out = b.Out[at:]
	}
	return s
}

// scattered is look for what needs no corners; own are the doubts of a block.
func (p *probe) scattered(b *tape.Block, own [][]float64) *probedBlock {
	inputs := len(p.inputs)
	s := &probedBlock{probe: p, Block: b, center: own[:inputs], u: make([][]float64, inputs)}
	all, doubt := make([]float64, inputs*b.N), false
	for k, spreads := range own[inputs:][:inputs] {
		if spreads == nil {
			continue
		}
		s.u[k] = all[k*b.N:][:b.N]
		for i, spread := range spreads {
			if tape.Usable(spread) && tape.Usable(s.center[k][i]) {
				s.u[k][i] = spread / 2
				doubt = doubt || spread > 0
			}
		}
	}
	if !doubt {
		return nil
	}
	return s
}

// bent is how far a margin may be off the straight line at the end of its
// spread, by judged quantity, limit and case of a block; infinite where a sample
// has no result.
type bent [][2][]float64

// screenEarly looks what bends in a block of cases, before there are derivatives. own
// are the doubts of the block.
func (p *probe) screenEarly(b *tape.Block, own [][]float64) {
	p.early = p.scattered(b, own).screen()
}

// screen looks what bends in each case of the block.
func (s *probedBlock) screen() bent {
	switch {
	case s == nil || !slices.Contains(s.bends, true):
		return nil
	case s.early != nil:
		return s.early
	}
	w := s.workers.Get()
	defer s.workers.Put(w)
	off := make(bent, len(s.judged))
	for first := 0; first < s.N; first += screenedAtOnce {
		n := min(screenedAtOnce, s.N-first)
		b := w.Run(0, samplesOf*n, func(b *tape.Block) { s.scatter(b, first, n) })
		for k := range off {
			for side := range off[k] {
				if b.Out[facetsIn*k+1+side] == nil {
					continue
				}
				if off[k][side] == nil {
					off[k][side] = make([]float64, s.N)
				}
				bend(off[k][side][first:][:n], b.Out[facetsIn*k:][:facetsIn], 1+side)
			}
		}
	}
	return off
}

const (
	samplesOf      = 1 + 2*screened // of a case: as it is, and on either side
	screenedAtOnce = tape.BlockSize / samplesOf
)

// scatter fills in the samples of n cases: these as they are, then on the one side of
// each pair, and on the other.
func (s *probedBlock) scatter(b *tape.Block, first, n int) {
	for k, in := range b.In {
		center := s.center[k][first:][:n]
		for sample := range samplesOf {
			copy(in[sample*n:], center)
		}
		if s.u[k] == nil {
			continue
		}
		u := s.u[k][first:][:n]
		for pair, z := range s.pairs[k] {
			plus, minus := in[(1+2*pair)*n:][:n], in[(2+2*pair)*n:][:n]
			for i := range u {
				plus[i] += z * u[i]
				minus[i] += -z * u[i]
			}
		}
	}
}

// bend finds how far the margins to a limit are off the straight line, in some cases
// of which there are the samples that [probedBlock.scatter] fills in.
func bend(off []float64, facets [][]float64, limit int) {
	n := len(off)
	for pair := range screened {
		for i := range off {
			straight, plus, minus := i, (1+2*pair)*n+i, (2+2*pair)*n+i
			one := func(f []float64) float64 { return f[plus] + f[minus] - 2*f[straight] }
			size := math.Abs(one(facets[0])-one(facets[limit])) / 2
			if !tape.Usable(size) {
				size = math.Inf(1)
			}
			off[i] += size * (4.0 / screened) // a bend grows with the square, and the spread is 2 u
		}
	}
}

// subject is a judged quantity as the derivatives have it.
type subject struct {
	*Judged
	interval
	center  float64 // SI, the value that the samples scatter around
	reading float64 // SI; NaN where the value is judged
	u       float64 // the reading's own standard uncertainty
}

// margins are the margins of a subject with their spreads.
func (v *interval) margins() [2]struct{ margin, spread float64 } {
	return [2]struct{ margin, spread float64 }{{v.value - v.low, v.lowSpread}, {v.high - v.value, v.highSpread}}
}

// strays reports whether a verdict may be another one off the straight line. The
// bend is an estimate from a few samples: where it is small beside the spread, twice
// of it is allowed for; where it is not, far more, since it may be off by a multiple
// and the next power of the formula comes in as well. What is unsure already is sampled
// for how sure it is.
func (v *subject) strays(off [2][]float64, i int) bool {
	for side, m := range v.margins() {
		if off[side] == nil || !Has(m.margin) {
			continue
		}
		spread := m.spread
		if !Has(spread) {
			spread = 0
		}
		bend := off[side][i]
		size := math.Max(math.Abs(v.value), math.Abs(v.value-m.margin))
		away := math.Abs(math.Abs(m.margin) - spread)
		switch {
		case bend <= limitSlack*size, bend <= slightBend*spread:
			if away <= 2*bend {
				return true
			}
		case bend > strongBend*spread, away <= 8*bend, v.Verdict == Unsure:
			return true
		}
	}
	return false
}

const (
	slightBend = 0.1 // of the spread: the straight line gives the spread well
	strongBend = 0.5 // of the spread: the straight line gives nothing
)

// nearCorner is up to how many spreads away a corner is sampled. One spread would do
// if the distance were straight in the inputs; where it bends, as that of
// x < y², it may be half as long again. So beyond farCorner no more than what passes
// unseen crosses it, which matters only to a verdict that has little to spare.
const (
	nearCorner = 2
	farCorner  = 1.5
	toSpare    = 2 // spreads between value and limit
)

// spares reports whether the limits are so far away that what is rarer than one
// sample in a hundred cannot change the verdict.
func (v *subject) spares() bool {
	for _, m := range v.margins() {
		if Has(m.margin) && !(math.Abs(m.margin) > toSpare*m.spread) {
			return false
		}
	}
	return true
}

// judge probes the case number i of the block and corrects its verdicts. It
// returns a warning for each quantity of which a verdict hangs on a corner or a
// bend, and for each whose own formula has a corner that changes its spread.
func (s *probedBlock) judge(i int, off bent, subjects []subject) []sheets.Problem {
	if s == nil {
		return nil
	}
	corner := make([]int, len(subjects)) // the first one within the spread that a quantity depends on, -1 for none
	near := make([]bool, len(subjects))  // one of them is so near that it is crossed often enough to count
	for k := range corner {
		corner[k] = -1
	}
	for at, kink := range s.kinks {
		distance, spread := s.out[2*at][i], s.out[2*at+1][i]
		if !tape.Usable(distance) || !tape.Usable(spread) {
			continue
		}
		reach := kink.Reach(s.tape, distance)
		if reach >= nearCorner*spread {
			continue
		}
		on, bit := s.dependence(at/kinksInGroup), uint64(1)<<(at%kinksInGroup)
		for k, j := range s.judged {
			for _, r := range [...]tape.Register{j.at[theValue], j.at[theLow], j.at[theHigh]} {
				if r == tape.None || on[r]&bit == 0 {
					continue
				}
				if corner[k] < 0 {
					corner[k] = at
				}
				near[k] = near[k] || reach < farCorner*spread
			}
		}
	}
	var doubtful []int
	for k := range subjects {
		v := &subjects[k]
		judged := v.isJudged()
		switch {
		case v.Error != "", s.brief && (!judged || v.Verdict == Unsure):
		case judged && corner[k] >= 0 && (near[k] || !v.spares()), judged && off != nil && v.strays(off[k], i):
			doubtful = append(doubtful, k)
		case !s.quiet && corner[k] >= 0 && near[k] && Has(v.Value) && s.holds(k, corner[k]):
			doubtful = append(doubtful, k)
		}
	}
	surely := func(v subject) bool { return v.Verdict == Fail }
	if s.brief { // what fails off no corner fails the case, whatever the others are
		kept := slices.Clone(subjects)
		for _, k := range doubtful {
			kept[k] = subject{Judged: &Judged{}}
		}
		if slices.ContainsFunc(kept, surely) {
			return nil
		}
	}
	if len(doubtful) == 0 {
		return nil
	}
	var warnings []sheets.Problem
	for n, o := range s.sample(i, doubtful, subjects) {
		k := doubtful[n]
		if w := s.settle(&subjects[k], &o, corner[k]); w != nil {
			warnings = append(warnings, *w)
		}
	}
	return warnings
}

// holds reports whether a quantity's own formula has a corner, and not only one
// that it depends on.
func (s *probedBlock) holds(k, corner int) bool {
	return s.model.originOf(s.tape, s.kinks[corner].At).formula == s.names[k].entry.formula
}

// isJudged reports whether a quantity has a verdict that samples can be asked for.
func (v *subject) isJudged() bool {
	return v.Verdict != NoVerdict && v.Verdict != Open && (Has(v.low) || Has(v.high))
}

// settle puts the verdict of the samples beside that of the derivatives: where
// they differ it is unsure.
func (s *probedBlock) settle(v *subject, o *drawn, corner int) *sheets.Problem {
	q := v.Quantity
	what := "the formula bends within the spread of what it is computed from"
	var kink *tape.Kink
	if corner >= 0 {
		kink = &s.kinks[corner]
		what = "the spread reaches across the corner of " + s.cornerName(kink.At)
	}
	tell := func(message, hint string) *sheets.Problem {
		message = q.Name + ": " + message
		if kink != nil && s.model.originOf(s.tape, kink.At).at >= 0 {
			w := s.model.problemAt(s.tape, kink.At, message, hint)
			return &w
		}
		if q.entry.formula == nil {
			return nil
		}
		w := q.entry.problem(q.entry.formula.whole(), message, hint)
		return &w
	}
	const hint = "look at it with --sample, which follows every branch"
	if !v.isJudged() {
		half, shift := o.interval(v.Unit.ToSI(v.Value))
		spread := v.Spread
		if !Has(spread) {
			spread = 0
		}
		half, shift = spreadIn(v.Unit, half), spreadIn(v.Unit, shift)
		least := (tenth + 4/math.Sqrt(float64(o.n))) * spread
		if half <= spreadIn(v.Unit, rounding(v.Unit.ToSI(v.Value))) || math.Abs(half-spread) <= least &&
			math.Abs(shift) <= least {
			return nil
		}
		told := strings.TrimSpace(fmt.Sprintf("%.2g %s", half, v.Unit.Difference().Symbol))
		return tell(fmt.Sprintf("%s: sampling gives a spread of %s, derivatives %.2g", what, told, spread), hint)
	}
	changed := o.verdict() != v.Verdict && v.Verdict != Unsure
	if changed {
		v.Verdict, v.Crossed = Unsure, true
	}
	if v.Verdict == Unsure {
		v.Inside = o.inside()
	}
	v.withhold()
	if !changed {
		return nil
	}
	return tell(fmt.Sprintf("%s, and beyond it the verdict is another one: %s likely to keep the limits", what,
		percent(o.inside())), hint)
}

// cornerName is what has a corner.
func (s *probedBlock) cornerName(r tape.Register) string {
	o := &s.tape.Ops[r]
	switch o.Code {
	case tape.OpMin:
		return "min"
	case tape.OpMax:
		return "max"
	case tape.OpLess, tape.OpLessEq, tape.OpEqual, tape.OpUnequal:
		return "this comparison"
	}
	return s.tape.More(o).Fn.Name
}
