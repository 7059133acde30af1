// Package fixedseed makes property tests draw the same cases each time, so that a failure comes back. It is for tests
// only.
package fixedseed

import (
	"flag"
	"fmt"
	"os"
)

// Set fixes and prints the seed of rapid's properties, and lets failures leave no files behind. It is called from
// TestMain before m.Run, which reads the command line afterwards: -rapid.seed there still draws other cases.
func Set(seed string) {
	for name, value := range map[string]string{"rapid.seed": seed, "rapid.nofailfile": "true"} {
		if err := flag.Set(name, value); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(2)
		}
	}
	fmt.Println("rapid seed", seed, "unless the command line says otherwise")
}
