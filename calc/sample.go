package calc

import (
	"context"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"

	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
)

// MaxSamples bounds a run of sampling: enough for any quantile that matters.
const MaxSamples = 1_000_000_000

// Sampling redoes the spread without derivatives (JCGM 101): every input with
// a spread is drawn from a normal distribution, the model runs, and the
// results between the 2.275 % and the 97.725 % quantile, which hold 95.45 %
// of them, are the interval. Draws depend on the seed and the number of their
// block only, and only whole numbers are added up, so that the answer is the
// same on any number of cores.
const (
	lowTail  = 0.02275013194817921 // normal probability below -2
	bins     = 8192
	binReach = 8.0     // units of the scale that the bins cover to each side
	fine     = 1 << 20 // steps of the sums in one unit of the scale
	pilots   = 16      // blocks of samples that set the scale
	maxDepth = 1 << 12 // a sample further out counts as this many deviations
)

// tally collects the samples of one result: a histogram over the pilot's
// scale and the sum of deviations.
type tally struct {
	center, scale float64 // of a normal distribution the mean and about its deviation
	counts        []uint32
	sum           int64 // of deviations, in steps of scale/fine
	n, failed     int64
	odds          odds // beside the limits
}

func (t *tally) add(x float64) {
	if !tape.Usable(x) {
		t.failed++
		return
	}
	t.n++
	z := 0.0
	if t.scale > 0 {
		z = math.Max(-maxDepth, math.Min(maxDepth, (x-t.center)/t.scale))
	}
	t.sum += int64(math.Round(z * fine))
	bin := int((z + binReach) * (bins / (2 * binReach)))
	t.counts[max(0, min(bins-1, bin))]++
}

func (t *tally) join(o *tally) {
	for i, c := range o.counts {
		t.counts[i] += c
	}
	t.sum += o.sum
	t.n += o.n
	t.failed += o.failed
	t.odds.join(&o.odds)
}

func (t *tally) mean() float64 {
	return t.center + float64(t.sum)/float64(max(t.n, 1))/fine*t.scale
}

// quantile is found by straight line within a bin. Its error is below the
// width of a bin, 1/512 of the scale, beside the one of sampling.
func (t *tally) quantile(p float64) float64 {
	want := p * float64(t.n)
	seen := 0.0
	for i, c := range t.counts {
		if next := seen + float64(c); next >= want && c > 0 {
			z := (float64(i)+(want-seen)/float64(c))*(2*binReach/bins) - binReach
			return t.center + z*t.scale
		} else {
			seen = next
		}
	}
	return math.NaN()
}

// source is where the samples of one input come from: a normal distribution.
// Without a standard uncertainty u all of them are the center.
type source struct{ center, u float64 }

// sources is what the samples of a program are drawn from.
type sources struct {
	in  []source  // by input
	out []subject // what is asked, as it comes out at the centers of the inputs
}

// sampling is a program with its inputs to draw. It yields value, low, high and
// the error of the reading's gauge of each quantity that is asked.
type sampling struct {
	program *tape.Program
	opt     CheckOptions
	root    *mat.TriDense // of the correlations of the inputs; nil for none
	sources
}

// draw fills in a block of samples. All runs with a seed draw the same numbers,
// so that cases differ by what they are and not by their luck.
func (s *sampling) draw(b *tape.Block) {
	g := rand.New(rand.NewPCG(s.opt.Seed, uint64(b.First)))
	for k, in := range b.In {
		from := s.sources.in[k]
		for i := range in {
			in[i] = 0
			if from.u > 0 {
				in[i] = g.NormFloat64()
			}
		}
	}
	correlate(s.root, b.In)
	for k, in := range b.In {
		from := s.sources.in[k]
		for i := range in {
			in[i] = from.center + from.u*in[i]
		}
	}
}

// correlate gives drawn errors, still in units of their standard uncertainties, the
// correlations of their inputs.
func correlate(root *mat.TriDense, drawn [][]float64) {
	if root == nil {
		return
	}
	own := make([]float64, len(drawn))
	for i := range drawn[0] {
		for k := range own {
			own[k] = 0
			for j := range k + 1 {
				own[k] += root.At(k, j) * drawn[j][i]
			}
		}
		for k, x := range own {
			drawn[k][i] = x
		}
	}
}

// isSampled reports whether sampling has something to add to a quantity: a formula
// that depends on a spread, even if its derivatives are 0, or limits that do.
func (j *judgement) isSampled(q *Quantity, doubtful []bool) bool {
	of := func(r tape.Register) bool { return r != tape.None && doubtful[r] }
	return q.IsFormula() && of(j.at[theValue]) || of(j.at[theLow]) || of(j.at[theHigh])
}

// sampled fills in what sampling finds of the quantities of a report, and
// returns a note for each where it and the derivatives disagree.
func (m *Model) sampled(subjects []subject, judgements []judgement, base []float64, opt CheckOptions) []sheets.Problem {
	s := sampling{opt: opt}
	var inputs []tape.Register
	for _, d := range m.doubts(base) {
		inputs = append(inputs, d.Input)
		s.in = append(s.in, source{base[d.Input], d.U})
	}
	doubtful := m.tape.Reached(inputs)
	var outputs []tape.Register
	for i := range subjects {
		if j := &judgements[i]; Has(subjects[i].Value) && j.isSampled(subjects[i].Quantity, doubtful) {
			outputs = append(outputs, j.at[theValue], j.at[theLow], j.at[theHigh], j.offset())
			s.out = append(s.out, subjects[i])
		}
	}
	if len(s.out) == 0 {
		return nil
	}
	s.program = tape.NewProgram(m.tape, inputs, outputs, base)
	s.root, _ = m.tape.Ties.Root(inputs)
	var notes []sheets.Problem
	for i, t := range s.run() {
		notes = append(notes, s.out[i].compare(t)...)
		if j := s.out[i].Judged; j.Quantity.IsFormula() {
			j.Histogram = t.histogram(j.Unit)
		}
	}
	return notes
}

// caseSampling samples the cases of a sheet, one after another, with one
// program for all of them. What they are drawn from is gathered from the run
// that computes their values and spreads.
type caseSampling struct {
	sampling
	inputs []tape.Register // the replaced givens and all that has a spread, in the order of the tape
	asked  []int           // what is sampled, by its place in what is judged
	at     int             // where what registers lists stands in the outputs of the run
	cases  []sources
}

// sampleCases prepares the sampling of a sheet. seeds gives the spreads of its
// inputs.
func (m *Model) sampleCases(cs *caseSheet, judged []*judgedColumn, judgements []judgement,
	seeds map[tape.Register]tape.Register, base []float64, opt CheckOptions) *caseSampling {
	c := &caseSampling{sampling: sampling{opt: opt}, cases: make([]sources, len(cs.sheet.Cases))}
	c.inputs = slices.Collect(maps.Keys(seeds))
	doubtful := m.tape.Reached(c.inputs)
	c.inputs = append(c.inputs, cs.inputs()...)
	slices.Sort(c.inputs)
	c.inputs = slices.Compact(c.inputs)
	var outputs []tape.Register
	for k, a := range judged {
		if j := &judgements[k]; j.isSampled(a.quantity, doubtful) {
			c.asked = append(c.asked, k)
			outputs = append(outputs, j.at[theValue], j.at[theLow], j.at[theHigh], j.offset())
		}
	}
	c.program = tape.NewProgram(m.tape, c.inputs, outputs, base)
	c.root, _ = m.tape.Ties.Root(c.inputs)
	return c
}

// registers appends what has to be known of each case to the outputs of a run.
func (c *caseSampling) registers(outputs []tape.Register, seeds map[tape.Register]tape.Register) []tape.Register {
	c.at = len(outputs)
	for _, r := range c.inputs {
		spread, doubted := seeds[r]
		if !doubted {
			spread = tape.None
		}
		outputs = append(outputs, r, spread)
	}
	return outputs
}

// take notes what one case of a block is drawn from.
func (c *caseSampling) take(b *tape.Block, i int, subjects []subject) {
	s := &c.cases[b.First+i]
	out := b.Out[c.at:]
	for k := range c.inputs {
		from := source{center: out[2*k][i]}
		if spread := out[2*k+1]; spread != nil && tape.Usable(from.center) && tape.Usable(spread[i]) {
			from.u = spread[i] / 2
		}
		s.in = append(s.in, from)
	}
	for _, k := range c.asked {
		s.out = append(s.out, subjects[k])
	}
}

// judge fills in what sampling finds of one case, and returns notes as sampled
// does.
func (c *caseSampling) judge(at int) []sheets.Problem {
	c.sources = c.cases[at]
	if len(c.asked) == 0 || !slices.ContainsFunc(c.in, func(s source) bool { return s.u > 0 }) {
		return nil
	}
	var notes []sheets.Problem
	for i, t := range c.run() {
		if v := &c.out[i]; Has(v.Value) {
			notes = append(notes, v.compare(t)...)
		}
	}
	return notes
}

// rounding is the size below which a spread is no more than the rounding of
// the numbers it comes from.
func rounding(value float64) float64 { return limitSlack * math.Abs(value) }

// run draws all samples, each worker into tallies of its own.
func (s *sampling) run() []*tally {
	scaled := s.pilot()
	workers := s.opt.workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	own := make([][]*tally, workers)
	for w := range own {
		for _, t := range scaled {
			own[w] = append(own[w], t.empty())
		}
	}
	// The context never ends, so neither does the run before its time.
	_ = s.program.Run(context.Background(), s.opt.Samples, workers, s.draw, func(b *tape.Block) {
		for k := range s.out {
			t, out := own[b.Worker][k], b.Out[facetsIn*k:facetsIn*k+facetsIn]
			for _, x := range out[0] {
				t.add(x)
			}
			t.odds.add(out, &s.out[k])
		}
	})
	for _, more := range own[1:] {
		for k, t := range more {
			own[0][k].join(t)
		}
	}
	return own[0]
}

// pilot runs the first samples to learn where the results lie and how wide.
// The scale comes from the very quantiles that are asked for, so that a few
// results far out, as near a pole, do not coarsen the bins for all others.
func (s *sampling) pilot() []*tally {
	n := len(s.out)
	centers, scales, blocks := make([]float64, n), make([]float64, n), make([]float64, n)
	w := s.program.NewWorker(tape.BlockSize)
	usable := make([]float64, 0, tape.BlockSize)
	for first := range pilots {
		b := w.Run(first*tape.BlockSize, tape.BlockSize, s.draw)
		for k := range s.out {
			out := b.Out[facetsIn*k]
			usable = slices.DeleteFunc(append(usable[:0], out...), func(x float64) bool { return !tape.Usable(x) })
			if len(usable) == 0 {
				continue
			}
			slices.Sort(usable)
			at := func(p float64) float64 { return usable[int(p*float64(len(usable)))] }
			width := at(1-lowTail) - at(lowTail)
			if width == 0 { // something happens in the tails only, if at all
				width = usable[len(usable)-1] - usable[0]
			}
			centers[k] += at(0.5) - s.out[k].center
			scales[k] += width / 4
			blocks[k]++
		}
	}
	tallies := make([]*tally, n)
	for k := range s.out {
		n := max(1, blocks[k])
		tallies[k] = &tally{center: s.out[k].center + centers[k]/n, scale: scales[k] / n}
	}
	return tallies
}

func (t *tally) empty() *tally {
	return &tally{center: t.center, scale: t.scale, counts: make([]uint32, bins)}
}

// compare keeps the sampled interval, judges by the samples, and notes where it differs from the
// derivatives' by more than a tenth of the spread, and why.
func (v *subject) compare(t *tally) []sheets.Problem {
	j := v.Judged
	if v.isJudged() {
		j.Verdict, j.Inside = t.odds.verdict(), t.odds.inside()
		j.withhold()
	}
	q, u := j.Quantity, j.Unit
	note := func(message, hint string) sheets.Problem {
		return q.expression().problem(q.expression().whole(), q.Name+": "+message, hint)
	}
	inDifference := func(x float64) string {
		return strings.TrimSpace(fmt.Sprintf("%.3g %s", x,
			u.Difference().Symbol))
	}
	var notes []sheets.Problem
	if !q.IsFormula() {
		return nil // of a given nothing but its verdict is sampled
	}
	lost := ""
	if t.failed > 0 {
		lost = fmt.Sprintf("%d of %d samples have no result", t.failed, t.n+t.failed)
		notes = append(notes, note(lost, "the spread reaches where the formula cannot be computed"))
		lost += "; of the others "
	}
	if t.n == 0 {
		return notes
	}
	mean, low, high := t.mean(), t.quantile(lowTail), t.quantile(1-lowTail)
	j.SampledMean, j.SampledLow, j.SampledHigh = u.FromSI(mean), u.FromSI(low), u.FromSI(high)
	half, spread, shift := spreadIn(u, (high-low)/2), j.Spread, spreadIn(u, mean-u.ToSI(j.Value))
	if !Has(spread) {
		spread = 0
	}
	if least := spreadIn(u, rounding(u.ToSI(j.Value))); half <= least && spread <= least {
		return notes
	}
	const tolerance = 0.1
	// What sampling itself leaves open must not be taken for a difference.
	least := tolerance*spread + 4*spread/math.Sqrt(float64(t.n))
	shifted, wider := math.Abs(shift) > least, math.Abs(half-spread) > least
	j.Bends = shifted || wider
	switch {
	case shifted && wider:
		notes = []sheets.Problem{note(lost+fmt.Sprintf("sampling gives %s ± %s, derivatives ± %.3g",
			units.WithUnit(j.SampledMean, u), inDifference(half), spread),
			"the formula bends within the spread of its inputs, or has a corner there; trust the sampled interval")}
	case shifted:
		notes = []sheets.Problem{note(lost+fmt.Sprintf("the mean of the samples is %s away from the value",
			inDifference(shift)),
			"the formula bends within the spread of its inputs; trust the sampled interval")}
	case wider:
		notes = []sheets.Problem{note(lost+fmt.Sprintf("sampling gives a spread of %s, derivatives %.3g",
			inDifference(half),
			spread),
			"a corner of min, max, abs, ? : or a curve lies within the spread of its inputs; "+
				"trust the sampled interval")}
	}
	return notes
}
