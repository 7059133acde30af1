package main

import (
	"fmt"
	"io"
	"log/slog"
	"os"
	"time"

	systemd "github.com/coreos/go-systemd/v22/daemon"
	"github.com/spf13/cobra"

	"ductward/daemon"
	"ductward/hardware"
	"ductward/internal/clock"
	"ductward/internal/quantity"
)

// defaultListen serves this machine alone.
const defaultListen = "127.0.0.1:8137"

// systemData is where a service keeps its data by the Filesystem Hierarchy Standard 3.0, section 5.8. It is taken where
// it has been made; elsewhere the data lie beside the caller.
const (
	systemData = "/var/lib/ductward"
	nearData   = "data"
)

func newRun() *cobra.Command {
	var data, listen, keep, commit string
	var door doorFlags
	var verbose bool
	cmd := &cobra.Command{
		Use:   "run SITE",
		Short: "Watch a shop until told to stop",
		Long: `Runs the watch: reads the sensors of a shop file, stores the readings, compares
them with the model of the ducts, raises alarms and serves the dashboard.

Ctrl-C or SIGTERM stops it cleanly; a second one ends it at once, and what was read
since the last commit is lost.

The dashboard listens on this machine alone unless --listen says otherwise: do so only
on a network whose people may read it. From other machines nothing can be changed until
there is a password ("ductward password") and the line is encrypted: name a certificate
and its key, which are read again when they are renewed. Without them the owner may
choose --plain-http, and then every page says so. A server before the dashboard that
encrypts, on the same machine, does as well.

Without a certificate the dashboard answers by its number, by the board's own name and
by names that end in .local; --name tells any other name that it is reached by.`,
		Example: `  ductward run shop.yaml
  ductward run /etc/ductward/shop.yaml --data /var/lib/ductward --listen 192.168.1.20:8137`,
		Args: cobra.ExactArgs(1),
	}
	cmd.Flags().StringVar(&data, "data", "", "folder of the store (default "+systemData+" where it exists, else ./"+nearData+")")
	cmd.Flags().StringVar(&listen, "listen", defaultListen, "address of the dashboard, HOST:PORT; empty: none")
	door.add(cmd.Flags())
	cmd.Flags().StringVar(&keep, "keep-raw", "104 weeks", "how long raw readings are kept; means and findings are kept for good")
	cmd.Flags().StringVar(&commit, "commit-every", "30 s", "how much of the readings a power cut may cost while a fan runs; each commit wears the card")
	cmd.Flags().BoolVar(&verbose, "verbose", false, "log more")
	cmd.RunE = work(func(cmd *cobra.Command, args []string) (err error) {
		raw, err := parseTime("--keep-raw", keep, 7*24*time.Hour, 100*52*7*24*time.Hour)
		if err != nil {
			return err
		}
		every, err := quantity.Parse(quantity.Duration, commit)
		if err != nil || every < 1 || every > 600 {
			return usage("--commit-every %q: write a time from 1 s to 10 min", commit)
		}
		s, err := loadShop(cmd.ErrOrStderr(), args[0])
		if err != nil {
			return err
		}
		gate, conf, err := door.gate(dataFolder(data), cmd.ErrOrStderr())
		if err != nil {
			return err
		}
		buses, err := hardware.HostBuses()
		if err != nil {
			return err
		}
		defer closeInto(&err, buses, "buses")
		pulse, err := systemdPulse()
		if err != nil {
			return err
		}
		d, err := daemon.New(daemon.Config{Shop: s, Pulse: pulse, DataDir: dataFolder(data), Listen: listen, Gate: gate, TLS: conf, Names: door.names, Buses: buses, KeepRaw: raw, CommitEvery: time.Duration(every * float64(time.Second)),
			Clock: clock.NewSystem(), Log: logger(cmd.ErrOrStderr(), slog.LevelInfo, verbose), Version: buildVersion()})
		if err != nil {
			return err
		}
		defer tellSystemd(systemd.SdNotifyStopping)
		return d.Run(cmd.Context())
	})
	return cmd
}

// systemdPulse tells systemd that the watch is ready and that it lives, where systemd asks (sd_notify(3),
// sd_watchdog_enabled(3)): at a third of its time, so that one that comes late costs nothing.
func systemdPulse() (daemon.Pulse, error) {
	limit, err := systemd.SdWatchdogEnabled(false)
	if err != nil {
		return daemon.Pulse{}, fmt.Errorf("what systemd asks of its watchdog: %w", err)
	}
	p := daemon.Pulse{Every: limit / 3, Ready: func() { tellSystemd(systemd.SdNotifyReady) }, Alive: func() { tellSystemd(systemd.SdNotifyWatchdog) }}
	if limit == 0 && os.Getenv("NOTIFY_SOCKET") != "" {
		p.Every = time.Minute // it wants to know when the watch is ready, and no more
	}
	return p, nil
}

// tellSystemd tells systemd a state. Where nobody listens nothing is told, and one that cannot be told is told again.
func tellSystemd(state string) { _, _ = systemd.SdNotify(false, state) }

// parseTime reads a time with its unit, such as "26 weeks", from least to most.
func parseTime(flag, s string, least, most time.Duration) (time.Duration, error) {
	seconds, err := quantity.Parse(quantity.Duration, s)
	if err != nil {
		return 0, usage("%s %q: %w", flag, s, err)
	}
	const day = 24 * time.Hour
	if seconds < least.Seconds() || seconds > most.Seconds() {
		return 0, usage("%s %q: write a time from %d days to %d days", flag, s, least/day, most/day)
	}
	return time.Duration(seconds * float64(time.Second)), nil
}

// dataFolder returns the folder that was asked for, or the usual one.
func dataFolder(asked string) string {
	if asked != "" {
		return asked
	}
	if info, err := os.Stat(systemData); err == nil && info.IsDir() {
		return systemData
	}
	return nearData
}

// logger writes lines of text to w, from a level on or everything.
func logger(w io.Writer, level slog.Level, verbose bool) *slog.Logger {
	if verbose {
		level = slog.LevelDebug
	}
	return slog.New(slog.NewTextHandler(w, &slog.HandlerOptions{Level: level}))
}

// closeInto closes c and keeps its error where there is none yet.
func closeInto(err *error, c io.Closer, what string) {
	if e := c.Close(); e != nil && *err == nil {
		*err = fmt.Errorf("close the %s: %w", what, e)
	}
}
