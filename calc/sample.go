package calc

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"

	"rambook/calc/tape"
	"rambook/calc/words"
	"rambook/sheets"
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
	pilot    = 16      // blocks of samples that set the scale
	maxDepth = 1 << 12 // a sample further out counts as this many deviations
)

// tally collects the samples of one result: a histogram over the pilot's
// scale and the sum of deviations.
type tally struct {
	center, scale float64 // of a normal distribution the mean and about its deviation
	counts        []uint32
	sum           int64 // of deviations, in steps of scale/fine
	n, failed     int64
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

// sampled fills in what sampling says of the quantities of a report, and
// returns a note for each where it and the derivatives disagree.
func (m *Model) sampled(r *Report, base []float64, opt CheckOptions) []sheets.Problem {
	var inputs []tape.Register
	doubts := m.doubts(base)
	for _, d := range doubts {
		inputs = append(inputs, d.input)
	}
	// A formula is sampled even if its derivatives are 0: it may bend there.
	reached := m.tape.Reached(inputs)
	var asked []*Judged
	var outputs []tape.Register
	for i := range r.Quantities {
		if j := &r.Quantities[i]; j.Quantity.IsFormula() && Has(j.Value) && reached[j.Quantity.value] {
			asked = append(asked, j)
			outputs = append(outputs, j.Quantity.value)
		}
	}
	if len(asked) == 0 {
		return nil
	}
	p := tape.NewProgram(m.tape, inputs, outputs, base)
	draw := func(b *tape.Block) {
		g := rand.New(rand.NewPCG(opt.Seed, uint64(b.First)))
		for k, in := range b.In {
			center, u := base[inputs[k]], doubts[k].u
			for i := range in {
				in[i] = center + u*g.NormFloat64()
			}
		}
	}
	total := sample(p, opt, draw, base, outputs)
	var notes []sheets.Problem
	for i, j := range asked {
		notes = append(notes, j.compare(total[i])...)
	}
	return notes
}

// rounding is the size below which a spread is no more than the rounding of
// the numbers it comes from.
func rounding(value float64) float64 { return limitSlack * math.Abs(value) }

// sample draws all samples, each worker into tallies of its own.
func sample(p *tape.Program, opt CheckOptions, draw func(*tape.Block), base []float64, outputs []tape.Register) []*tally {
	scaled := pilotRun(p, draw, base, outputs)
	workers := opt.workers
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
	_ = p.Run(context.Background(), opt.Samples, workers, draw, func(b *tape.Block) {
		for k, out := range b.Out {
			t := own[b.Worker][k]
			for _, x := range out {
				t.add(x)
			}
		}
	})
	for _, more := range own[1:] {
		for k, t := range more {
			own[0][k].join(t)
		}
	}
	return own[0]
}

// pilotRun runs the first samples to learn where the results lie and how wide.
// The scale comes from the very quantiles that are asked for, so that a few
// results far out, as near a pole, do not coarsen the bins for all others.
func pilotRun(p *tape.Program, draw func(*tape.Block), base []float64, outputs []tape.Register) []*tally {
	centers, scales, blocks := make([]float64, len(outputs)), make([]float64, len(outputs)), make([]float64, len(outputs))
	w := p.NewWorker()
	usable := make([]float64, 0, tape.BlockSize)
	for first := range pilot {
		b := w.Run(first*tape.BlockSize, tape.BlockSize, draw)
		for k, out := range b.Out {
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
			centers[k] += at(0.5) - base[outputs[k]]
			scales[k] += width / 4
			blocks[k]++
		}
	}
	tallies := make([]*tally, len(outputs))
	for k, r := range outputs {
		n := max(1, blocks[k])
		tallies[k] = &tally{center: base[r] + centers[k]/n, scale: scales[k] / n}
	}
	return tallies
}

func (t *tally) empty() *tally {
	return &tally{center: t.center, scale: t.scale, counts: make([]uint32, bins)}
}

// compare keeps the sampled interval and says where it differs from the
// derivatives' by more than a tenth of the spread, and why.
func (j *Judged) compare(t *tally) []sheets.Problem {
	q, u := j.Quantity, j.Unit
	note := func(message, hint string) sheets.Problem {
		return q.entry.problem(q.entry.formula.whole(), q.Name+": "+message, hint)
	}
	apart := func(x float64) string { return strings.TrimSpace(fmt.Sprintf("%.3g %s", x, u.Difference().Symbol)) }
	var notes []sheets.Problem
	if t.failed > 0 {
		notes = append(notes, note(fmt.Sprintf("%d of %d samples have no result", t.failed, t.n+t.failed), "the spread reaches where the formula cannot be computed"))
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
	doubt := 4 * spread / math.Sqrt(float64(t.n))
	switch {
	case math.Abs(shift) > tolerance*spread+doubt && math.Abs(half-spread) > tolerance*spread+doubt:
		notes = append(notes, note(fmt.Sprintf("sampling gives %s ± %s, derivatives ± %.3g", words.WithUnit(j.SampledMean, u), apart(half), spread),
			"the formula bends within the spread of its inputs, or has a corner there; trust the sampled interval"))
	case math.Abs(shift) > tolerance*spread+doubt:
		notes = append(notes, note(fmt.Sprintf("the mean of the samples is %s away from the value", apart(shift)),
			"the formula bends within the spread of its inputs; trust the sampled interval"))
	case math.Abs(half-spread) > tolerance*spread+doubt:
		notes = append(notes, note(fmt.Sprintf("sampling gives a spread of %s, derivatives %.3g", apart(half), spread),
			"a corner of min, max, abs, ? : or a curve lies within the spread of its inputs; trust the sampled interval"))
	}
	return notes
}
