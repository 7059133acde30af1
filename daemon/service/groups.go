package service

import (
	"os"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"syscall"
)

// usualGroups own the buses on the boards that have such groups: I²C, pins, and serial ports.
var usualGroups = []string{"dialout", "gpio", "i2c"}

// devices are the buses and serial ports of a board.
var devices = []string{"/dev/i2c-*", "/dev/gpiochip*", "/dev/gpiomem*", "/dev/ttyUSB*", "/dev/ttyACM*", "/dev/ttyAMA*"}

// busGroups lists the usual groups and those that own this board's devices, sorted. The superuser's is none of them.
func busGroups(patterns []string) []string {
	groups := slices.Clone(usualGroups)
	for _, p := range patterns {
		paths, _ := filepath.Glob(p) // the patterns are ours and sound
		for _, path := range paths {
			if g := owner(path); g != "" && g != "root" && !slices.Contains(groups, g) {
				groups = append(groups, g)
			}
		}
	}
	slices.Sort(groups)
	return groups
}

// owner names the group of a file; "" where it cannot be told.
func owner(path string) string {
	info, err := os.Stat(path)
	if err != nil {
		return ""
	}
	stat, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return ""
	}
	g, err := user.LookupGroupId(strconv.FormatUint(uint64(stat.Gid), 10))
	if err != nil {
		return ""
	}
	return g.Name
}
