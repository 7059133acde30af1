package steady

import (
	"os"
	"testing"

	"ductward/internal/fixedseed"
)

func TestMain(m *testing.M) {
	fixedseed.Set("417")
	os.Exit(m.Run())
}
