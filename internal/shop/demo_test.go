package shop

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestDemoShopIsSound(t *testing.T) {
	s, problems, err := Load("../../hardware/rig/shop.yaml")
	require.NoError(t, err)
	require.Empty(t, problems)
	require.Len(t, s.Collectors, 1)
}
