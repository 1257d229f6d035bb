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
//
//go:noinline
func (t *Tape) Once(set map[Register]float64) []float64 {
	values := make([]float64, len(t.Ops))
	t.rerun(values, 0, set)
	return values
}

// Continue is Once for a tape of which the first operations have been run
// already; base holds their values.
//
//go:noinline
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
	base   []float64
	fresh  []bool     // by register: it has been set or run for this case
	done   []Register // the same as a list
	memory memory
}

// Again prepares to run cases beside the base case, of which the values are given.
func (t *Tape) Again(base []float64) *Again {
	values := slices.Clone(base)
	return &Again{Values: values, tape: t, base: base, fresh: make([]bool, len(t.Ops)),
		memory: memory{values: values, size: 1}}
}

// Next begins another case: all is as in the base case again, until it is set or
// run. undo is called with what was not.
func (a *Again) Next(undo func(Register)) {
	for _, r := range a.done {
		a.Values[r], a.fresh[r] = a.base[r], false
		undo(r)
	}
	a.done = a.done[:0]
}

// Set gives an operation a value for this case.
func (a *Again) Set(r Register, v float64) {
	a.Values[r], a.fresh[r] = v, true
	a.done = append(a.done, r)
}

// Run computes an operation whose operands are as they should be. It reports false
// if the operation has been set or run for this case before.
func (a *Again) Run(r Register) bool {
	if a.fresh[r] {
		return false
	}
	a.memory.once(a.tape, r)
	a.fresh[r], a.done = true, append(a.done, r)
	return true
}

// rerun computes the operations from number from on.
func (t *Tape) rerun(values []float64, from int, set map[Register]float64) {
	m := memory{values: values, size: 1}
	for i := from; i < len(t.Ops); i++ {
		if v, ok := set[Register(i)]; ok {
			values[i] = v
			continue
		}
		m.once(t, Register(i))
	}
}

// once runs an operation in a memory that has a block of one for each register. Those
// that derivatives are made of, nine of ten on a tape, are run on the spot, in an
// eighth of the time.
func (m *memory) once(t *Tape, r Register) {
	o, v := &t.Ops[r], m.values
	y := Failed
	switch o.Code {
	case opConst, OpInput:
		v[r] = o.k
		return
	case OpAdd:
		y = v[o.A] + v[o.B]
	case OpSub:
		y = v[o.A] - v[o.B]
	case OpMul:
		y = v[o.A] * v[o.B]
	case opMulAdd:
		y = v[o.A]*v[o.B] + v[o.C]*v[o.D]
	case OpDiv:
		y = Divide(v[o.A], v[o.B])
	}
	if y == y { // which of two NaNs goes on depends on the order of operands, so that is left to the block
		v[r] = y
		return
	}
	k := kernel{code: o.Code, out: r, a: o.A, b: o.B, c: o.C, d: o.D}
	if m.one(&k) {
		return
	}
	x := extra{k: o.k, more: t.More(o)}
	if x.more != nil {
		x.args = x.more.Args
	}
	m.run(&k, &x, 1)
}

// Program is the part of a tape that a run over many cases needs: the
// operations between what varies and what is asked. All else is constant over
// the run and computed once. The registers in it are the numbers of blocks in the
// memory of a worker.
type Program struct {
	blocks  Register   // that a worker needs
	inputs  []Register // the blocks of the inputs,
	fixed   []Register // of what is constant over the run,
	base    []float64  // which has these values,
	outputs []Register // and of the outputs; None for none
	varies  []bool     // by output: it depends on an input
	kernels []kernel   // in the order in which they are run
	extras  []extra    // of the kernels
	around  bool
}

// NewProgram plans a run in which the inputs vary and the outputs are asked.
// base holds the value of every operation in the base case.
func NewProgram(t *Tape, inputs, outputs []Register, base []float64) *Program {
	plan := newPlan(t, inputs, outputs)
	defer plans.Put(plan)
	p := &Program{inputs: make([]Register, len(inputs)), outputs: make([]Register, len(outputs)),
		varies: make([]bool, len(outputs)), kernels: make([]kernel, 0, len(plan.steps)),
		extras: make([]extra, 1, 1+plan.calls)}
	plan.of = slices.Grow(plan.of[:0], len(plan.flags))[:len(plan.flags)]
	clear(plan.of)
	for i, r := range inputs {
		p.inputs[i] = plan.keep(r)
	}
	constant := func(r Register) {
		if plan.at(r) == None && r != None {
			p.fixed, p.base = append(p.fixed, plan.keep(r)), append(p.base, base[r])
		}
	}
	places := make([]Register, 0, plan.args) // of the operands of calls, for all kernels
	var used []Register
	for _, r := range plan.steps {
		o := &t.Ops[r]
		used = t.Operands(o, used[:0])
		for _, operand := range used {
			constant(operand)
		}
		plan.take(r)
		k := kernel{code: o.Code, out: plan.at(r), a: plan.at(o.A), b: plan.at(o.B), c: plan.at(o.C),
			d: plan.at(o.D)}
		if o.more != 0 || o.Code == OpPower {
			first := len(places)
			one := extra{k: o.k, more: t.More(o)}
			if one.more != nil {
				for _, arg := range one.more.Args {
					places = append(places, plan.at(arg))
				}
			}
			one.args = places[first:]
			k.extra = int32(len(p.extras))
			p.extras = append(p.extras, one)
		}
		p.kernels = append(p.kernels, k)
		used = append(used, r)
		for _, u := range used {
			if plan.ends(u, r) {
				plan.free, plan.last[u+1] = append(plan.free, plan.at(u)), None // an operand may stand there twice
			}
		}
	}
	for i, r := range outputs {
		constant(r)
		p.outputs[i], p.varies[i] = plan.at(r), plan.flags[r+1]&itVaries != 0
	}
	p.blocks = plan.made
	return p
}

// Around tells a program that its cases are samples around one that another program
// runs, so that what is looked for once for a case need not be looked for again. It
// returns the program.
func (p *Program) Around() *Program {
	p.around = true
	return p
}

// Varies reports whether output number i depends on the inputs.
func (p *Program) Varies(i int) bool { return p.varies[i] }

// Steps lists the operations that lead from the inputs to the outputs, in their
// order.
func (t *Tape) Steps(inputs, outputs []Register) []Register {
	plan := newPlan(t, inputs, outputs)
	defer plans.Put(plan)
	return slices.Clone(plan.steps)
}

// plan is what is found out about a tape while a program is made. Its memory serves
// for one program after another: a notebook has dozens, and a tape with derivatives
// is long. What is by register has room for None in front.
type plan struct {
	flags []uint8    // by register
	last  []Register // by register: the last step that makes or reads it
	of    []Register // by register: the block in which it stands, from 1; 0 for none
	steps []Register // what is to be run, in this order
	calls int        // steps that have more than operands,
	args  int        // and arguments of these
	made  Register   // blocks that a worker needs
	free  []Register // blocks whose register is used no more
}

// What is known of a register.
const (
	isNeeded  = 1 << iota // for the outputs
	itVaries              // it depends on an input that varies, or is one
	itStays               // it is an input or an output, which outlast the block
	isAnInput = itVaries | itStays
)

var plans = sync.Pool{New: func() any { return new(plan) }}

// newPlan finds the steps that lead from the inputs to the outputs, and how long
// what they make is used.
func newPlan(t *Tape, inputs, outputs []Register) *plan {
	p := plans.Get().(*plan)
	first, end := Register(len(t.Ops)), Register(0) // nothing before varies, nothing from the end on is needed
	for _, r := range inputs {
		first, end = min(first, r), max(end, r+1)
	}
	for _, r := range outputs {
		end = max(end, r+1)
	}
	p.flags = slices.Grow(p.flags[:0], int(end)+1)[:end+1]
	clear(p.flags)
	p.last = slices.Grow(p.last[:0], int(end)+1)[:end+1]
	p.steps, p.calls, p.args, p.made, p.free = p.steps[:0], 0, 0, 0, p.free[:0]
	flags, last := p.flags, p.last

	for _, r := range inputs {
		flags[r+1] = isAnInput
	}
	for _, r := range outputs {
		flags[r+1] |= isNeeded | itStays
	}
	flags[None+1] = 0
	for r := end - 1; r > first; r-- {
		if flags[r+1]&(isNeeded|itVaries) != isNeeded {
			continue
		}
		o := &t.Ops[r]
		for _, a := range [4]Register{o.A, o.B, o.C, o.D} {
			flags[a+1] |= isNeeded
		}
		if o.more != 0 {
			for _, a := range t.more[o.more].Args {
				flags[a+1] |= isNeeded
			}
		}
	}
	flags[None+1] = 0
	for r := first; r < end; r++ {
		if flags[r+1]&(isNeeded|itVaries) != isNeeded {
			continue
		}
		o := &t.Ops[r]
		of := flags[o.A+1] | flags[o.B+1] | flags[o.C+1] | flags[o.D+1]
		if o.more != 0 {
			for _, a := range t.more[o.more].Args {
				of |= flags[a+1]
			}
		}
		if of&itVaries == 0 {
			continue
		}
		flags[r+1] |= itVaries
		p.steps = append(p.steps, r)
		last[r+1], last[o.A+1], last[o.B+1], last[o.C+1], last[o.D+1] = r, r, r, r, r
		if o.more != 0 {
			p.calls++
			for _, a := range t.more[o.more].Args {
				last[a+1] = r
				p.args++
			}
		}
	}
	return p
}

// ends reports whether a register that varies is used no more behind a step.
func (p *plan) ends(r, step Register) bool {
	return p.flags[r+1]&isAnInput == itVaries && p.last[r+1] == step
}

// at is the block of a register, None for none.
func (p *plan) at(r Register) Register {
	return p.of[r+1] - 1
}

// keep gives a register a block that no other one has had.
func (p *plan) keep(r Register) Register {
	if p.of[r+1] == 0 {
		p.made++
		p.of[r+1] = p.made
	}
	return p.at(r)
}

// take gives a register a block, if possible one that is free again.
func (p *plan) take(r Register) {
	n := len(p.free)
	if n == 0 {
		p.keep(r)
		return
	}
	p.of[r+1], p.free = p.free[n-1]+1, p.free[:n-1]
}

// Block is a run of consecutive cases, as a worker sees it. The slices are
// the worker's own and are used again for its next block.
type Block struct {
	First, N int
	Worker   int         // which of the workers runs it, from 0
	In       [][]float64 // to fill: one slice per input, N long
	Out      [][]float64 // the results: one slice per output, N long, nil for none
}

// apart is how many numbers full blocks lie apart, a line of the cache: at distances of
// a power of 2 the first cases of all of them would be in each other's way there.
const apart = 8

// Worker is a program with memory to run in.
type Worker struct {
	program *Program
	memory  memory
	block   Block
	in, out [][]float64
}

// NewWorker makes a worker, with memory of its own, that runs one block at a
// time, of at most so many cases, and at most BlockSize.
func (p *Program) NewWorker(cases int) *Worker {
	size := min(cases, BlockSize) // most case sheets are short
	if size == BlockSize {
		size += apart
	}
	w := &Worker{program: p, memory: memory{values: make([]float64, int(p.blocks)*size), size: size,
		around: p.around}}
	for i, at := range p.fixed {
		block := w.memory.block(at, size)
		for j := range block {
			block[j] = p.base[i]
		}
	}
	all := make([][]float64, 2*(len(p.inputs)+len(p.outputs)))
	part := func(n int) (own [][]float64) {
		own, all = all[:n:n], all[n:]
		return own
	}
	w.in, w.block.In = part(len(p.inputs)), part(len(p.inputs))
	w.out, w.block.Out = part(len(p.outputs)), part(len(p.outputs))
	for i, at := range p.inputs {
		w.in[i] = w.memory.block(at, size)
	}
	for i, at := range p.outputs {
		if at != None {
			w.out[i] = w.memory.block(at, size)
		}
	}
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
	for i := range w.program.kernels {
		k := &w.program.kernels[i]
		w.memory.run(k, &w.program.extras[k.extra], n)
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
