package tape

import (
	"context"
	"errors"
	"runtime"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

// parcel is what a batch carries through an ordered run.
type parcel struct {
	first    int
	values   []float64
	finished int // how often finish was called for what it carries now
}

// ordered runs n cases of x + 3, in which some batches are made to finish
// after later ones, and hands the parcels to emit.
func ordered(ctx context.Context, n, workers int, newParcel func() *parcel, emit func(*parcel) error) error {
	tape, first, last := chain(3)
	p := NewProgram(tape, []Register{first}, []Register{last}, tape.Once(nil))
	return RunOrdered(ctx, p, n, workers, newParcel, func(b *Block, to *parcel) {
		if b.First%BatchSize == 0 {
			to.first, to.values, to.finished = b.First, to.values[:0], 0
			for range b.First / BatchSize % 5 {
				runtime.Gosched()
			}
		}
		for i := range b.In[0] {
			b.In[0][i] = float64(b.First + i)
		}
	}, func(b *Block, to *parcel) { to.values = append(to.values, b.Out[0]...) },
		func(to *parcel) { to.finished++ }, emit)
}

// TestRunOrdered: all cases come out once, in their order, and there are no
// more parcels than the window has.
func TestRunOrdered(t *testing.T) {
	for _, test := range []struct{ n, workers int }{{0, 2}, {1, 1}, {128, 3}, {129, 2}, {1024, 2}, {1025, 2},
		{100_000, 1}, {100_000, 4}, {100_000, 0}} {
		parcels, next := 0, 0
		err := ordered(context.Background(), test.n, test.workers, func() *parcel { parcels++; return new(parcel) },
			func(p *parcel) error {
				if p.first != next {
					t.Fatalf("%d cases on %d workers: case %d was emitted after %d", test.n, test.workers, p.first,
						next)
				}
				if p.finished != 1 {
					t.Fatalf("the batch from case %d was finished %d times", p.first, p.finished)
				}
				for i, x := range p.values {
					if x != float64(p.first+i+3) {
						t.Fatalf("case %d yields %v", p.first+i, x)
					}
				}
				next += len(p.values)
				return nil
			})
		if err != nil || next != test.n {
			t.Errorf("%d of %d cases on %d workers: %v", next, test.n, test.workers, err)
		}
		if test.workers > 0 && parcels > test.workers*windowPerWorker {
			t.Errorf("%d cases on %d workers took %d parcels", test.n, test.workers, parcels)
		}
	}
}

// TestRunOrderedStopsOnError: the error of emit ends the run and is returned,
// nothing is emitted after it, and no worker is left behind: the bubble fails
// if one still waits.
func TestRunOrderedStopsOnError(t *testing.T) {
	full := errors.New("disk full")
	for _, last := range []int{0, 1, 50} {
		synctest.Test(t, func(t *testing.T) {
			emitted := 0
			err := ordered(context.Background(), 100*BatchSize, 3, func() *parcel { return new(parcel) },
				func(*parcel) error {
					if emitted == last {
						return full
					}
					emitted++
					return nil
				})
			if err != full || emitted != last {
				t.Errorf("after %d batches the error is %v, want %v after %d", emitted, err, full, last)
			}
		})
	}
}

// TestRunOrderedStopsWithContext: so does the end of the context, also while
// workers wait for parcels, and before the run.
func TestRunOrderedStopsWithContext(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	emitted := 0
	err := ordered(ctx, 1_000_000_000, 2, func() *parcel { return new(parcel) }, func(*parcel) error {
		if emitted++; emitted == 20 {
			stop()
		}
		return nil
	})
	if err != context.Canceled || emitted < 20 || emitted > 20+2*windowPerWorker {
		t.Errorf("%d batches were emitted, and the error is %v", emitted, err)
	}
	err = ordered(ctx, 1000, 2, func() *parcel { return new(parcel) }, func(*parcel) error { return nil })
	if err != context.Canceled {
		t.Errorf("a run in a context that has ended yields %v", err)
	}
}

// TestRunOrderedWaitsForASlowReader: a reader that is slower than the workers
// holds them up, instead of having them fill the memory.
func TestRunOrderedWaitsForASlowReader(t *testing.T) {
	var finished atomic.Int64
	tape, first, last := chain(3)
	p := NewProgram(tape, []Register{first}, []Register{last}, tape.Once(nil))
	const workers = 2
	emitted := 0
	_ = RunOrdered(context.Background(), p, 50*BatchSize, workers, func() *parcel { return new(parcel) },
		func(*Block, *parcel) {}, func(*Block, *parcel) {}, func(*parcel) { finished.Add(1) },
		func(*parcel) error {
			if emitted++; emitted == 1 {
				time.Sleep(20 * time.Millisecond) // long enough for all workers to run dry
			}
			if ahead := int(finished.Load()) - emitted; ahead > workers*windowPerWorker {
				t.Errorf("%d batches are ahead of the reader", ahead)
			}
			return nil
		})
	if emitted != 50 {
		t.Errorf("%d batches were emitted, want 50", emitted)
	}
}
