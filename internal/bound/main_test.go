package bound

import (
	"os"
	"testing"

	"ductward/internal/fixedseed"
)

// TestMain makes the properties draw the same cases each time.
func TestMain(m *testing.M) {
	fixedseed.Set("2026")
	os.Exit(m.Run())
}
