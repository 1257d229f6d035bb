package tape

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

const (
	// BatchSize is the number of cases that RunOrdered hands over at a time:
	// enough that the handing over costs nothing beside them.
	BatchSize = 8 * BlockSize
	// windowPerWorker is how many batches may be in flight for each worker:
	// enough that none waits for a slower one, few enough to cost no memory.
	windowPerWorker = 4
)

// RunOrdered computes n cases of a program as Run does, and hands them to emit
// in their order, a batch at a time. A batch has a T of its own while it is in
// flight: fill and use work on it in any goroutine, block after block, then
// finish does, and emit gets it in the calling goroutine. There is a fixed
// number of them, so memory does not grow with n. It stops early when the
// context ends or emit returns an error.
func RunOrdered[T any](ctx context.Context, p *Program, n, workers int, newT func() T,
	fill, use func(*Block, T), finish func(T), emit func(T) error) error {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	batches := (n + BatchSize - 1) / BatchSize
	window := windowPerWorker * workers
	free := make(chan T, window)
	for range window {
		free <- newT()
	}
	// A worker takes a T before it takes the number of a batch. So at most
	// window numbers are out at a time, and no two of them share a slot.
	done := make([]chan T, window)
	for i := range done {
		done[i] = make(chan T, 1)
	}
	ctx, stop := context.WithCancel(ctx)
	var next atomic.Int64
	var wait sync.WaitGroup
	for range workers {
		wait.Go(func() {
			w := p.NewWorker(BlockSize)
			var t T
			fillOwn := func(b *Block) { fill(b, t) }
			for {
				select {
				case <-ctx.Done():
					return
				case t = <-free:
				}
				batch := int(next.Add(1)) - 1
				if batch >= batches {
					return
				}
				end := min(n, (batch+1)*BatchSize)
				for first := batch * BatchSize; first < end; first += BlockSize {
					use(w.Run(first, min(BlockSize, end-first), fillOwn), t)
				}
				finish(t)
				done[batch%window] <- t
			}
		})
	}
	defer wait.Wait()
	defer stop()
	for batch := range batches {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case t := <-done[batch%window]:
			if err := emit(t); err != nil {
				return err
			}
			free <- t
		}
	}
	return ctx.Err()
}
