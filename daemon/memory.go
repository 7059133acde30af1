package daemon

import (
	"os"
	"runtime/debug"
)

// collectAt is by how much of what lives the heap may grow before garbage is collected, in percent. The default of 100
// doubles what is resident; a board has more time to spare than memory.
const collectAt = 50

// spareMemory has garbage collected earlier, unless the environment says when.
func spareMemory() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(collectAt)
	}
}
