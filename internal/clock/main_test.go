package clock

import (
	"os"
	"testing"

	"ductward/internal/fixedseed"
)

func TestMain(m *testing.M) {
	fixedseed.Set("419")
	os.Exit(m.Run())
}
