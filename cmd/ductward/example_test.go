package main

import (
	"context"
	"fmt"
	"os"
	"strings"
)

// What a person types is a list of words, and what comes back is text and an exit code.
func Example() {
	code := run(context.Background(), strings.Fields("check testdata/elm-lane.yaml"), os.Stdin, os.Stdout, os.Stderr)
	fmt.Println("exit code", code)
	// Output:
	// testdata/elm-lane.yaml: "Elm Lane joinery" is in order: 1 collector, 3 runs of duct, 2 machines, 2 gates, 2 sensors
	// exit code 0
}
