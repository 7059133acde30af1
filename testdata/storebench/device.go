package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"

	"golang.org/x/sys/unix"
)

// device is a block device that nothing else uses: a loop device over a file, with a file system of its own. What
// reaches it is counted by the kernel in sectors: data and file-system journal together. The counts in /proc of a
// process are no use: they count folios of the page cache.
type device struct {
	loop, mount string
}

func newDevice(work string, megabytes int64) (d *device, err error) {
	image := filepath.Join(work, "device.img")
	f, err := os.Create(image)
	if err != nil {
		return nil, err
	}
	if err := errors.Join(f.Truncate(megabytes<<20), f.Close()); err != nil {
		return nil, err
	}
	out, err := run("losetup", "-f", "--show", image)
	if err != nil {
		return nil, fmt.Errorf("a loop device needs root: %w", err)
	}
	d = &device{loop: strings.TrimSpace(out), mount: filepath.Join(work, "device")}
	if err := d.format(); err != nil {
		_, _ = run("losetup", "-d", d.loop) // the first error says what is wrong
		return nil, err
	}
	return d, nil
}

func (d *device) format() error {
	if err := os.MkdirAll(d.mount, 0o755); err != nil {
		return err
	}
	// Inode tables made in the background would be counted as written.
	if _, err := run("mkfs.ext4", "-q", "-E", "lazy_itable_init=0,lazy_journal_init=0", d.loop); err != nil {
		return err
	}
	_, err := run("mount", "-o", "noatime", d.loop, d.mount)
	return err
}

func (d *device) close() error {
	_, err := run("umount", d.mount)
	_, err2 := run("losetup", "-d", d.loop)
	return errors.Join(err, err2)
}

// written returns how many bytes have reached the device, after all that waits has.
func (d *device) written() (int64, error) {
	f, err := os.Open(d.mount)
	if err != nil {
		return 0, err
	}
	defer func() { _ = f.Close() }() // nothing was written
	if err := unix.Syncfs(int(f.Fd())); err != nil {
		return 0, err
	}
	stat, err := os.ReadFile(filepath.Join("/sys/block", filepath.Base(d.loop), "stat"))
	if err != nil {
		return 0, err
	}
	const sectorsWritten = 6
	fields := strings.Fields(string(stat))
	if len(fields) <= sectorsWritten {
		return 0, fmt.Errorf("statistics of %s have %d fields", d.loop, len(fields))
	}
	sectors, err := strconv.ParseInt(fields[sectorsWritten], 10, 64)
	return sectors * 512, err
}

func run(name string, args ...string) (string, error) {
	out, err := exec.Command(name, args...).CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("%s: %w: %s", name, err, out)
	}
	return string(out), nil
}

// evict drops a file from the page cache, so that it is read from cold.
func evict(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer func() { _ = f.Close() }() // nothing was written
	if err := f.Sync(); err != nil {
		return err
	}
	return unix.Fadvise(int(f.Fd()), 0, 0, unix.FADV_DONTNEED)
}

func size(path string) (int64, error) {
	info, err := os.Stat(path)
	if err != nil {
		return 0, err
	}
	return info.Size(), nil
}
