// Command ductward watches a workshop's dust extraction: it reads pressure sensors across the filter and at the trunk,
// compares them with a model of the ducts, and tells when the filter needs cleaning, where a seam has opened and how
// sure it is. Run "ductward demo" for a look at it on an invented shop.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	// The first signal asks for a clean stop. Letting go of the signals then makes a second one end the process at once.
	context.AfterFunc(ctx, stop)
	code := run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}
