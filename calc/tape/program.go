package tape

import (
	"context"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
)

// BlockSize is the number of cases that one operation handles at a time:
// enough to make the cost of choosing the operation small, few enough that
// the blocks of a model stay in the fastest cache.
const BlockSize = 128

// Once runs the whole tape for a single case: the block of one. set puts
// other values in the place of givens.
func (t *Tape) Once(set map[Register]float64) []float64 {
	values := make([]float64, len(t.Ops))
	t.rerun(values, 0, set)
	return values
}

// Continue is Once for a tape of which the first operations have been run
// already; base holds their values.
func (t *Tape) Continue(base []float64) []float64 {
	values := make([]float64, len(t.Ops))
	t.rerun(values, copy(values, base), nil)
	return values
}

// Again runs a tape for one case after another, of which much is as in a base
// case, and of the rest no more than is asked for.
type Again struct {
	Values []float64 // by register: of the base case, and of what has been set or run
	tape   *Tape
	fresh  []int // by register: the case that it has been set or run for
	number int   // of the case
	memory memory
}

// Again prepares to run cases beside the base case, of which the values are given.
func (t *Tape) Again(base []float64) *Again {
	values := slices.Clone(base)
	return &Again{Values: values, tape: t, fresh: make([]int, len(t.Ops)), memory: memory{values: values, size: 1}}
}

// Next begins another case. What differs from case to case has to be set or run
// before it is read.
func (a *Again) Next() { a.number++ }

// Set gives an operation a value for this case.
func (a *Again) Set(r Register, v float64) { a.Values[r], a.fresh[r] = v, a.number }

// Run computes an operation whose operands are as they should be. It reports false
// if the operation has been set or run for this case before.
func (a *Again) Run(r Register) bool {
	if a.fresh[r] == a.number {
		return false
	}
	a.memory.once(&a.tape.Ops[r], r)
	a.fresh[r] = a.number
	return true
}

// rerun computes the operations from number from on.
func (t *Tape) rerun(values []float64, from int, set map[Register]float64) {
	m := memory{values: values, size: 1}
	for i := from; i < len(t.Ops); i++ {
		o := &t.Ops[i]
		if v, ok := set[Register(i)]; ok {
			values[i] = v
			continue
		}
		m.once(o, Register(i))
	}
}

// once runs an operation in a memory that has a block of one for each register.
func (m *memory) once(o *Op, r Register) {
	k := kernel{Op: o, out: r, a: o.A, b: o.B, c: o.C, d: o.D}
	if o.More != nil {
		k.args = o.More.Args
	}
	m.run(&k, 1)
}

// Program is the part of a tape that a run over many cases needs: the
// operations between what varies and what is asked. All else is constant over
// the run and computed once.
type Program struct {
	tape    *Tape
	slots   *slots
	inputs  []Register
	varies  []bool     // by register: it depends on an input
	fixed   []Register // constant over the run
	base    []float64  // the values of those
	kernels []kernel   // in the order in which they are run
	outputs []Register
}

// NewProgram plans a run in which the inputs vary and the outputs are asked.
// base holds the value of every operation in the base case.
func NewProgram(t *Tape, inputs, outputs []Register, base []float64) *Program {
	p := &Program{tape: t, slots: newSlots(len(t.Ops)), inputs: slices.Clone(inputs), outputs: slices.Clone(outputs)}
	p.varies = t.Reached(inputs)
	varies, needed := p.varies, t.Needed(outputs)
	for _, r := range inputs {
		p.slots.keep(r)
	}
	var steps []Register
	args := 0
	for i := range t.Ops {
		if r := Register(i); varies[r] && needed[r] && !p.slots.has(r) {
			steps = append(steps, r)
			if more := t.Ops[i].More; more != nil {
				args += len(more.Args)
			}
		}
	}
	p.kernels = make([]kernel, 0, len(steps))
	places := make([]Register, 0, args) // of the operands of calls, for all kernels
	last := t.lastUses(steps)
	for _, r := range slices.Concat(inputs, outputs) {
		if r != None {
			last[r] = None // it has to outlast the block
		}
	}
	constant := func(r Register) {
		if r != None && !p.slots.has(r) {
			p.slots.keep(r)
			p.fixed, p.base = append(p.fixed, r), append(p.base, base[r])
		}
	}
	var used []Register
	for _, r := range steps {
		used = t.Ops[r].Operands(used[:0])
		for _, operand := range used {
			constant(operand)
		}
		p.slots.take(r)
		o := &t.Ops[r]
		k := kernel{Op: o, out: p.slots.at(r), a: p.slots.at(o.A), b: p.slots.at(o.B), c: p.slots.at(o.C),
			d: p.slots.at(o.D)}
		if o.More != nil && len(o.More.Args) > 0 {
			first := len(places)
			for _, arg := range o.More.Args {
				places = append(places, p.slots.at(arg))
			}
			k.args = places[first:]
		}
		p.kernels = append(p.kernels, k)
		used = append(used, r)
		for i, u := range used {
			if varies[u] && last[u] == r && !slices.Contains(used[:i], u) {
				p.slots.give(u)
			}
		}
	}
	for _, r := range outputs {
		constant(r)
	}
	return p
}

// Varies says, by register of the tape, what depends on the inputs.
func (p *Program) Varies() []bool { return p.varies }

// lastUses gives, for each register that the steps make or read, the last step
// that does; one that nothing reads is used last where it is made.
func (t *Tape) lastUses(steps []Register) []Register {
	last := make([]Register, len(t.Ops))
	var operands []Register
	for _, r := range steps {
		last[r] = r
		operands = t.Ops[r].Operands(operands[:0])
		for _, operand := range operands {
			last[operand] = r
		}
	}
	return last
}

// slots says in which of a worker's blocks of memory each register stands.
type slots struct {
	of   []int32 // by register, -1 for none
	made int     // blocks that a worker needs
	free []int32 // blocks whose register is used no more
}

func newSlots(registers int) *slots {
	return &slots{of: slices.Repeat([]int32{-1}, registers)}
}

func (s *slots) has(r Register) bool { return s.of[r] >= 0 }

// at is the number of a register's block, 0 for None.
func (s *slots) at(r Register) Register {
	if r == None {
		return 0
	}
	return Register(s.of[r])
}

// keep gives a register a block that no other one has had.
func (s *slots) keep(r Register) {
	s.of[r] = int32(s.made)
	s.made++
}

// take gives a register a block, if possible one that is free again.
func (s *slots) take(r Register) {
	n := len(s.free)
	if n == 0 {
		s.keep(r)
		return
	}
	s.of[r], s.free = s.free[n-1], s.free[:n-1]
}

// give frees the block of a register.
func (s *slots) give(r Register) { s.free = append(s.free, s.of[r]) }

// Block is a run of consecutive cases, as a worker sees it. The slices are
// the worker's own and are used again for its next block.
type Block struct {
	First, N int
	Worker   int         // which of the workers runs it, from 0
	In       [][]float64 // to fill: one slice per input, N long
	Out      [][]float64 // the results: one slice per output, N long, nil for none
}

// Worker is a program with memory to run in.
type Worker struct {
	kernels []kernel
	memory  memory
	block   Block
	in, out [][]float64
}

// NewWorker makes a worker, with memory of its own, that runs one block at a
// time, of at most so many cases, and at most BlockSize.
func (p *Program) NewWorker(cases int) *Worker {
	size := min(cases, BlockSize) // most case sheets are short
	w := &Worker{kernels: p.kernels, memory: memory{values: make([]float64, p.slots.made*size), size: size}}
	at := func(r Register) []float64 {
		if r == None {
			return nil
		}
		return w.memory.block(p.slots.at(r), size)
	}
	for i, r := range p.fixed {
		for j, block := 0, at(r); j < len(block); j++ {
			block[j] = p.base[i]
		}
	}
	w.in, w.out = make([][]float64, 0, len(p.inputs)), make([][]float64, 0, len(p.outputs))
	for _, r := range p.inputs {
		w.in = append(w.in, at(r))
	}
	for _, r := range p.outputs {
		w.out = append(w.out, at(r))
	}
	w.block.In = make([][]float64, len(w.in))
	w.block.Out = make([][]float64, len(w.out))
	return w
}

// Run computes cases first to first+n-1.
func (w *Worker) Run(first, n int, fill func(*Block)) *Block {
	w.block.First, w.block.N = first, n
	for i := range w.in {
		w.block.In[i] = w.in[i][:n]
	}
	for i := range w.out {
		if w.out[i] != nil {
			w.block.Out[i] = w.out[i][:n]
		}
	}
	fill(&w.block)
	for i := range w.kernels {
		w.memory.run(&w.kernels[i], n)
	}
	return &w.block
}

// Run computes n cases on several workers (0: one per core). fill sets the
// inputs of a block, use takes its results; both are called from several
// goroutines, for different blocks, in no fixed order. It stops early when
// the context ends.
func (p *Program) Run(ctx context.Context, n, workers int, fill, use func(*Block)) error {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	blocks := (n + BlockSize - 1) / BlockSize
	var next atomic.Int64
	work := func(number int) {
		w := p.NewWorker(n)
		w.block.Worker = number
		for ctx.Err() == nil {
			b := int(next.Add(1)) - 1
			if b >= blocks {
				return
			}
			first := b * BlockSize
			use(w.Run(first, min(BlockSize, n-first), fill))
		}
	}
	var wait sync.WaitGroup
	for number := 1; number < min(workers, blocks); number++ {
		wait.Go(func() { work(number) })
	}
	work(0) // the calling goroutine does its share, so that short runs start none
	wait.Wait()
	return ctx.Err()
}
