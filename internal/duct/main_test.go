package duct_test

import (
	"os"
	"testing"

	"ductward/internal/fixedseed"
)

func TestMain(m *testing.M) {
	fixedseed.Set("20252")
	os.Exit(m.Run())
}
