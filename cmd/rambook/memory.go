package main

import (
	"os"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
)

// lateHeap is the memory in bytes up to which nothing is collected.
const lateHeap = 64 << 20

// collectLate puts garbage collection off until the program has taken lateHeap
// bytes. A check of a usual notebook is over before, and would spend a quarter
// of its time on collecting. Where little of it is in use then, as while one
// notebook is checked after another, the next collection waits for as much again,
// which saves a sixth of that time; of a large heap the environment decides, or
// where it does not, the next one waits for 70 % more, which costs no time yet.
func collectLate() {
	percent := debug.SetGCPercent(-1)
	limit := debug.SetMemoryLimit(lateHeap)
	var collected func(first bool)
	await := func(first bool) {
		// The cleanup runs after the next collection, since nothing holds the
		// object. Smaller ones share a block of memory, which others may hold.
		runtime.AddCleanup(new([16]byte), collected, first)
	}
	collected = func(first bool) {
		if first {
			debug.SetMemoryLimit(limit)
		}
		if percent < 0 { // the environment wants no collection
			debug.SetGCPercent(percent)
			return
		}
		live := []metrics.Sample{{Name: "/gc/heap/live:bytes"}}
		metrics.Read(live)
		used := int(max(live[0].Value.Uint64(), 1<<20))
		next := percent
		if used > 2*lateHeap && os.Getenv("GOGC") == "" {
			next = min(next, 70)
		}
		debug.SetGCPercent(max(next, 100*(lateHeap-used)/used))
		await(false)
	}
	await(true)
}
