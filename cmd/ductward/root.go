package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"
)

// run carries out one command line and returns its exit code. It is the whole program but for the signals.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	root := newRoot()
	root.SetArgs(append([]string{}, args...)) // never nil, for which cobra would take those of the process
	root.SetIn(stdin)
	root.SetOut(stdout)
	root.SetErr(stderr)
	cmd, err := root.ExecuteContextC(ctx)
	return report(cmd, err, stderr)
}

const rootLong = `ductward watches a workshop's dust extraction.

It reads pressure sensors across the filter and at the trunk, compares them with
a model of the ducts, and tells when the filter needs cleaning, where a leak has
opened, which machine gets too little air, and how sure it is of each.

It advises. It is not a safety instrument: a quiet page is not clean air.`

const rootExample = `  ductward demo                                 an invented shop, with six months behind it
  ductward check shop.yaml                      every mistake in a shop file, at once
  ductward airflow shop.yaml --open saw,planer  what the model says for these gates
  ductward run shop.yaml --data /var/lib/ductward`

// newRoot builds the command with all its subcommands. Nothing is shared between two of them, so that tests can run
// many.
func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:           "ductward",
		Short:         "Watch a workshop's dust extraction",
		Long:          rootLong,
		Example:       rootExample,
		SilenceErrors: true, // report says them, once and with the exit code
		SilenceUsage:  true,
	}
	root.AddCommand(newDemo(), newRun(), newCheck(), newSensors(), newTell(), newPassword(), newDevices(), newAirflow(), newBalance(), newCompare(), newDraw(), newImprove(), newWorth(), newReplay(), newTrial(), newExport(), newImport(), newBackup(), newRestore(), newVerify(), newInstall(), newUninstall(), newVersion())
	return root
}

// Exit codes, as other programs may rely on them.
const (
	exitFine    = 0 // done, and fine
	exitNotFine = 1 // done, and what was asked about is not fine
	exitUse     = 2 // wrong use
	exitFailed  = 3 // the tool could not do its work
)

// coded is an error that knows its exit code. An empty text says that everything has been said already.
type coded struct {
	code int
	err  error
}

func (c *coded) Error() string {
	if c.err == nil {
		return ""
	}
	return c.err.Error()
}

func (c *coded) Unwrap() error { return c.err }

// notFine ends a command with exit code 1 and says nothing more.
func notFine() error { return &coded{code: exitNotFine} }

// usage makes an error of wrong use.
func usage(format string, args ...any) error {
	return &coded{code: exitUse, err: fmt.Errorf(format, args...)}
}

// work adapts a command's function: whatever goes wrong inside it is a failure to do the work unless it says otherwise.
// Errors of cobra's own, which come before it, are wrong use.
func work(f func(*cobra.Command, []string) error) func(*cobra.Command, []string) error {
	return func(cmd *cobra.Command, args []string) error {
		err := f(cmd, args)
		var c *coded
		if err == nil || errors.As(err, &c) {
			return err
		}
		return &coded{code: exitFailed, err: err}
	}
}

// report says what went wrong and turns it into an exit code.
func report(cmd *cobra.Command, err error, stderr io.Writer) int {
	if err == nil {
		return exitFine
	}
	code := exitUse
	var c *coded
	if errors.As(err, &c) {
		code = c.code
	}
	if err.Error() != "" {
		fmt.Fprintf(stderr, "ductward: %v\n", err)
	}
	if code == exitUse {
		fmt.Fprintf(stderr, "see %q\n", cmd.CommandPath()+" --help")
	}
	return code
}
