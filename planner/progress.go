package planner

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// Progress is told how much of a long work is done. It may be called from several
// goroutines at once. Nil is no progress.
type Progress func(done, total int)

// parallel runs work for 0 to n-1 on all processors.
func parallel(n int, progress Progress, work func(i int)) { inBatches(n, 64, progress, work) }

// inBatches is parallel for work that is worth more or less at a time.
func inBatches(n, batch int, progress Progress, work func(i int)) {
	var next, done atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), (n+batch-1)/batch) {
		wg.Go(func() {
			for {
				from := int(next.Add(int64(batch))) - batch
				if from >= n {
					return
				}
				to := min(from+batch, n)
				for i := from; i < to; i++ {
					work(i)
				}
				if d := done.Add(int64(to - from)); progress != nil {
					progress(int(d), n)
				}
			}
		})
	}
	wg.Wait()
}
