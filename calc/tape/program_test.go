package tape

import (
	"context"
	"math"
	"slices"
	"sync"
	"testing"

	"pgregory.net/rapid"
)

// samples are the values that givens of random tapes take.
var samples = []float64{0, 1, -1, 2, 0.5, 3, -2.5, 1e200, 1e-200, infinite, -infinite, Missing, Failed}

// keys are the texts that the key of their look-ups takes.
var keys = []float64{0, 1, 2, 3, 4, Missing, Failed}

// anyTape is a tape made of arbitrary bytes, with a run over it.
type anyTape struct {
	*Tape
	key             Register // of look-ups
	inputs, outputs []Register
	cases           int
}

// tapeOf reads bytes as a tape: four of them to an operation, a few before
// them for the run. All bytes make a tape, so that a fuzzer can change them
// at will.
func tapeOf(data []byte) anyTape {
	next := func() int {
		if len(data) == 0 {
			return 0
		}
		b := data[0]
		data = data[1:]
		return int(b)
	}
	a := anyTape{Tape: New()}
	givens := 1 + next()%4
	vary, asked := next(), next()
	a.cases = []int{1, 300, BlockSize - 1, BlockSize, BlockSize + 1}[next()%5]
	var made []Register
	for range givens {
		made = append(made, a.Input(samples[next()%len(samples)]))
	}
	a.key = a.Input(keys[next()%len(keys)])
	made = append(made, a.Constant(1), a.Constant(samples[next()%len(samples)]))
	// Half of the operands are one of the last three results, so that tapes
	// are deep, and a result is often used twice by one operation.
	pick := func() Register {
		if n := next(); n%2 == 1 {
			return made[n/2%len(made)]
		} else {
			return made[len(made)-1-n/2%3]
		}
	}
	for len(data) > 0 && len(made) < 60 {
		op := builders[next()%len(builders)]
		operands := []Register{pick(), pick(), pick()}
		if op.name == "look up" {
			operands[0] = a.key
		}
		made = append(made, op.build(a.Tape, operands))
	}
	// What varies is some of the givens, sometimes one twice, sometimes a
	// computed value; what is asked is anything, sometimes nothing.
	for i := range givens {
		if vary>>i&1 == 0 {
			a.inputs = append(a.inputs, made[i])
		}
	}
	if vary%5 == 0 {
		a.inputs = append(a.inputs, a.key)
	}
	if vary%7 == 0 {
		a.inputs = append(a.inputs, made[len(made)/2])
	}
	if vary%3 == 0 && len(a.inputs) > 0 {
		a.inputs = append(a.inputs, a.inputs[0])
	}
	a.outputs = []Register{made[len(made)-1], None, made[0], made[len(made)-1]}
	for i := range 8 {
		if asked>>i&1 == 1 {
			a.outputs = append(a.outputs, made[(i*7+asked)%len(made)])
		}
	}
	return a
}

// value is what input k is in a case. An input that is named twice has one
// value.
func (a *anyTape) value(k, c int) float64 {
	if a.inputs[k] == a.key {
		return keys[c%len(keys)]
	}
	return samples[(slices.Index(a.inputs, a.inputs[k])*5+c*7+c/11)%len(samples)]
}

func (a *anyTape) fill(b *Block) {
	for k, in := range b.In {
		for i := range in {
			in[i] = a.value(k, b.First+i)
		}
	}
}

func (a *anyTape) set(c int) map[Register]float64 {
	set := map[Register]float64{}
	for k, r := range a.inputs {
		set[r] = a.value(k, c)
	}
	return set
}

// failer is what a test and a property have in common.
type failer interface {
	Fatalf(format string, args ...any)
}

// check holds a run in blocks against one case at a time, and what is needed
// and reached against what changes when other operations do.
func (a *anyTape) check(t failer) {
	base := a.Once(nil)
	want := make([][]float64, a.cases)
	for c := range want {
		want[c] = a.Once(a.set(c))
	}
	identical := func(x, y float64) bool { return math.Float64bits(x) == math.Float64bits(y) }
	p := NewProgram(a.Tape, a.inputs, a.outputs, base)
	compare := func(b *Block) {
		for k, r := range a.outputs {
			if r == None {
				if b.Out[k] != nil {
					t.Fatalf("an output that was not asked is there")
				}
				continue
			}
			for i, got := range b.Out[k] {
				if c := b.First + i; !identical(got, want[c][r]) {
					t.Fatalf("case %d: register %d is %s in a block, %s by itself", c, r, shown(got), shown(want[c][r]))
				}
			}
		}
	}
	w := p.NewWorker(BlockSize)
	// in any order
	for first := (a.cases - 1) / BlockSize * BlockSize; first >= 0 && first < a.cases; first -= BlockSize {
		compare(w.Run(first, min(BlockSize, a.cases-first), a.fill))
	}
	var lock sync.Mutex
	done := 0
	err := p.Run(context.Background(), a.cases, 2, a.fill, func(b *Block) {
		lock.Lock()
		defer lock.Unlock()
		compare(b)
		done += b.N
	})
	if err != nil || done != a.cases {
		t.Fatalf("%d of %d cases ran: %v", done, a.cases, err)
	}
	reached, needed := a.Reached(a.inputs), a.Needed(a.outputs)
	for c := range min(a.cases, len(samples)) {
		for r, x := range want[c] {
			if !reached[r] && !identical(x, base[r]) {
				t.Fatalf("register %d changes though no input reaches it", r)
			}
		}
	}
	for i := range a.Ops {
		if needed[i] {
			continue
		}
		changed := a.Once(map[Register]float64{Register(i): 12345})
		for _, r := range a.outputs {
			if r != None && !identical(changed[r], base[r]) {
				t.Fatalf("register %d changes with register %d, which it is said not to need", r, i)
			}
		}
	}
}

// TestProgramsAreOnce: a program gives the same as the whole tape does for
// each case.
func TestProgramsAreOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := tapeOf(rapid.SliceOfN(rapid.Byte(), 60, 240).Draw(t, "tape"))
		a.check(t)
	})
}

// FuzzProgram is the same for bytes that a fuzzer chooses; it starts from a
// tape for each operation.
func FuzzProgram(f *testing.F) {
	for k := range builders {
		f.Add([]byte{2, byte(k), 0x5a, 1, 3, 4, 5, 1, 3, byte(k), 1, 3, 5, 0, 9, 3, 5, byte(k), 0, 2, 1})
	}
	// An operation between what is open and what has failed.
	f.Add([]byte{1, 2, 0, 1, 0, 12, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 34, 1, 3, 59: 0})
	f.Fuzz(func(t *testing.T, data []byte) {
		a := tapeOf(data)
		a.check(t)
	})
}

// chain is a tape that adds 1 to its given over and over.
func chain(length int) (t *Tape, first, last Register) {
	t = New()
	first = t.Input(0)
	last = first
	one := t.Constant(1)
	for range length {
		last = t.Binary(OpAdd, last, one)
	}
	return t, first, last
}

// TestSlotsAreUsedAgain: the memory of a worker does not grow with the length
// of a model.
func TestSlotsAreUsedAgain(t *testing.T) {
	tape, first, last := chain(1000)
	p := NewProgram(tape, []Register{first}, []Register{last}, tape.Once(nil))
	if len(p.kernels) != 1000 || p.blocks > 4 {
		t.Errorf("%d steps need %d blocks of memory", len(p.kernels), p.blocks)
	}
	b := p.NewWorker(BlockSize).Run(0, 3, func(b *Block) { copy(b.In[0], []float64{1, 2, 3}) })
	if !slices.Equal(b.Out[0], []float64{1001, 1002, 1003}) {
		t.Errorf("the results are %v", b.Out[0])
	}
	if !slices.Equal(b.In[0], []float64{1, 2, 3}) {
		t.Errorf("the inputs were overwritten: %v", b.In[0])
	}
}

// TestOperandUsedTwice: an operation that reads one result twice gives its
// memory free once.
func TestOperandUsedTwice(t *testing.T) {
	tape := New()
	x := tape.Input(0)
	negative := tape.One(OpNeg, x)
	square := tape.Mul(negative, negative)
	above, below := tape.Binary(OpAdd, x, square), tape.Binary(OpSub, x, square)
	p := NewProgram(tape, []Register{x}, []Register{tape.Mul(above, below)}, tape.Once(nil))
	b := p.NewWorker(BlockSize).Run(0, 1, func(b *Block) { b.In[0][0] = 2 })
	if got := b.Out[0][0]; got != (2+4)*(2-4) {
		t.Errorf("(x + x²)(x - x²) of 2 is %v, want -12", got)
	}
}

// TestConstantPartsRunOnce: what no input reaches is no step of the run, and
// what no output needs neither.
func TestConstantPartsRunOnce(t *testing.T) {
	tape := New()
	fixed, moving := tape.Input(5), tape.Input(2)
	square := tape.Power(fixed, 2)
	sum := tape.Binary(OpAdd, square, moving)
	tape.Power(moving, 3) // nobody asks for it
	p := NewProgram(tape, []Register{moving}, []Register{sum, square, fixed, None},
		tape.Once(map[Register]float64{fixed: 7}))
	if len(p.kernels) != 1 || p.kernels[0].code != OpAdd {
		t.Errorf("%d steps, want the sum alone", len(p.kernels))
	}
	b := p.NewWorker(BlockSize).Run(0, 2, func(b *Block) { copy(b.In[0], []float64{1, 10}) })
	for k, want := range [][]float64{{50, 59}, {49, 49}, {7, 7}} {
		if !slices.Equal(b.Out[k], want) {
			t.Errorf("output %d is %v, want %v: the values of the base case hold", k, b.Out[k], want)
		}
	}
	if b.Out[3] != nil {
		t.Error("an output that was not asked is there")
	}
}

// TestRunSplitsCases: every case is run once, in blocks that know their place,
// by the workers that were allowed.
func TestRunSplitsCases(t *testing.T) {
	tape, first, last := chain(3)
	p := NewProgram(tape, []Register{first}, []Register{last}, tape.Once(nil))
	for _, test := range []struct{ n, workers int }{{0, 2}, {1, 1}, {127, 3}, {128, 2}, {129, 2}, {1000, 3},
		{1000, 0}} {
		seen := make([]int, test.n)
		var lock sync.Mutex
		err := p.Run(context.Background(), test.n, test.workers, func(b *Block) {
			for i := range b.In[0] {
				b.In[0][i] = float64(b.First + i)
			}
		}, func(b *Block) {
			lock.Lock()
			defer lock.Unlock()
			if b.First%BlockSize != 0 || len(b.Out[0]) != b.N || test.workers > 0 && b.Worker >= test.workers {
				t.Errorf("%d cases: block from %d of %d cases, %d results, by worker %d", test.n, b.First, b.N,
					len(b.Out[0]), b.Worker)
			}
			for i, x := range b.Out[0] {
				seen[b.First+i]++
				if x != float64(b.First+i+3) {
					t.Errorf("case %d yields %v", b.First+i, x)
				}
			}
		})
		if err != nil || slices.ContainsFunc(seen, func(n int) bool { return n != 1 }) {
			t.Errorf("%d cases on %d workers: %v, and not every case ran once", test.n, test.workers, err)
		}
	}
}

// TestRunStops: a run ends early with its context.
func TestRunStops(t *testing.T) {
	tape, first, last := chain(1)
	p := NewProgram(tape, []Register{first}, []Register{last}, tape.Once(nil))
	ctx, stop := context.WithCancel(context.Background())
	blocks := 0
	err := p.Run(ctx, 1000*BlockSize, 1, func(*Block) {}, func(*Block) {
		if blocks++; blocks == 3 {
			stop()
		}
	})
	if err != context.Canceled || blocks != 3 {
		t.Errorf("%d blocks ran, and the error is %v", blocks, err)
	}
}

// TestNothingAllocated: blocks cost no memory, whatever the operations.
func TestNothingAllocated(t *testing.T) {
	tape := New()
	x := []Register{tape.Input(1), tape.Input(2), tape.Input(3)}
	var outputs []Register
	for _, op := range builders {
		outputs = append(outputs, op.build(tape, x))
	}
	more := tape.Extend()
	s := Differentiate(more, seedsOf(more, x), outputs)
	for _, r := range slices.Clone(outputs) {
		outputs = append(outputs, s.Spread(r))
	}
	w := NewProgram(s.Tape, x, outputs, s.Once(nil)).NewWorker(BlockSize)
	fill := func(b *Block) {
		for k, in := range b.In {
			for i := range in {
				in[i] = float64(1 + k + i%3)
			}
		}
	}
	if n := testing.AllocsPerRun(20, func() { w.Run(0, BlockSize, fill) }); n != 0 {
		t.Errorf("%v allocations per block", n)
	}
}
