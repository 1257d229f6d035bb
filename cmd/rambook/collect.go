package main

import (
	"runtime"
	"runtime/debug"
)

// lateHeap is the memory in bytes up to which nothing is collected.
const lateHeap = 32 << 20

// collectLate puts garbage collection off until the program has taken lateHeap
// bytes. A check of a usual notebook is over before, and would spend a quarter
// of its time on collecting; from the first collection on everything is as the
// environment asks for.
func collectLate() {
	percent := debug.SetGCPercent(-1)
	limit := debug.SetMemoryLimit(lateHeap)
	// The cleanup runs after the first collection, since nothing holds the
	// object. Smaller ones share a block of memory, which others may hold.
	runtime.AddCleanup(new([16]byte), func(limit int64) {
		debug.SetMemoryLimit(limit)
		debug.SetGCPercent(percent)
	}, limit)
}
