package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"runtime/debug"
	"strconv"
	"strings"
	"syscall"
	"time"

	"ductward/internal/store"
)

// child runs in a process of its own: one that is killed, or whose memory is looked at.
func child(args []string) error {
	if len(args) < 4 {
		return errors.New("want a child's name, folder, channels and readings a second")
	}
	channels, err := strconv.Atoi(args[2])
	if err != nil {
		return err
	}
	hz, err := strconv.Atoi(args[3])
	if err != nil {
		return err
	}
	o, err := openOurs(args[1], store.Options{})
	if err != nil {
		return err
	}
	boot, err := o.boot(beginning.Add(20 * 365 * day))
	if err != nil {
		return err
	}
	switch args[0] {
	case "child-killed":
		w := newWorkload(channels, hz)
		if _, err := w.stretch(o, boot, 0, 8*time.Hour, 2*time.Hour, true); err != nil {
			return err
		}
		return syscall.Kill(syscall.Getpid(), syscall.SIGKILL)
	case "child-memory":
		debug.SetGCPercent(50) // as the daemon does
		return writeAndRead(o, boot, channels, hz)
	}
	return fmt.Errorf("no child is called %s", args[0])
}

// killedWriter lets a process write for some hours of its day and die without closing.
func killedWriter(dir string) error {
	err := exec.Command(os.Args[0], "child-killed", dir, "16", "1").Run()
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		if status, ok := exit.Sys().(syscall.WaitStatus); ok && status.Signaled() && status.Signal() == syscall.SIGKILL {
			return nil
		}
	}
	return fmt.Errorf("the writer was not killed: %v", err)
}

// writeAndRead commits half an hour of readings after another while a reader draws charts and reads days, and tells the
// memory of the process, in kB: resident, of it pages of the file, of it the program's own, and the most so far.
func writeAndRead(o *ours, boot uint32, channels, hz int) error {
	w := newWorkload(channels, hz)
	half := 30 * time.Minute
	for n := range 10 {
		if _, err := w.stretch(o, boot, time.Duration(n)*half, 8*time.Hour, half, true); err != nil {
			return err
		}
		for _, b := range o.s.Boots()[:1] {
			for _, days := range []int{1, 30, 365} {
				if _, err := o.chart(w.names[1], b.Zero, b.Zero.Add(time.Duration(days)*day), chartBuckets); err != nil {
					return err
				}
			}
			q := store.ReadQuery{From: b.Zero.Add(time.Duration(20*n) * day), To: b.Zero.Add(time.Duration(20*n+1) * day)}
			for _, err := range o.s.Readings(context.Background(), q) {
				if err != nil {
					return err
				}
			}
		}
	}
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return err
	}
	for _, key := range memoryKeys {
		for line := range strings.Lines(string(status)) {
			if strings.HasPrefix(line, key+":") {
				fmt.Println(strings.Fields(line)[1])
			}
		}
	}
	return o.close()
}

var memoryKeys = [4]string{"VmRSS", "RssFile", "RssAnon", "VmHWM"}

// memory looks at a writer and a reader on the long record.
func (b *bench) memory() error {
	if len(b.aged) == 0 {
		return errors.New("needs the section years")
	}
	for _, c := range []struct {
		channels, hz int
		limit        float64
	}{{16, 1, 40}, {64, 10, 64}} {
		dir, err := b.folder(fmt.Sprintf("memory-%d", c.channels))
		if err != nil {
			return err
		}
		if err := copyIfThere(oursFile(b.agedDir(len(b.aged)-1)), oursFile(dir)); err != nil {
			return err
		}
		out, err := exec.Command(os.Args[0], "child-memory", dir, strconv.Itoa(c.channels), strconv.Itoa(c.hz)).Output()
		if err != nil {
			return err
		}
		var mb [4]float64
		for i, field := range strings.Fields(string(out)) {
			kb, err := strconv.ParseFloat(field, 64)
			if err != nil || i >= len(mb) {
				return fmt.Errorf("memory: %q", out)
			}
			mb[i] = kb * 1024 / 1e6
		}
		b.bar(fmt.Sprintf("resident memory of a writer and a reader, %d channels at %d Hz", c.channels, c.hz),
			fmt.Sprintf("≤ %.0f MB", c.limit), mb[0] <= c.limit,
			"%.0f MB, %.0f of it pages of the program and the file, %.0f its own; at most %.0f", mb[0], mb[1], mb[2], mb[3])
	}
	return nil
}
