package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/term"
)

func newPassword() *cobra.Command {
	var data string
	cmd := &cobra.Command{
		Use:   "password --data DIR",
		Short: "Set the password for changing anything on the dashboard",
		Long: `Asks for a password twice and keeps its hash in the data folder, in a file that its
owner alone may read; the password itself is kept nowhere. It holds at once, also for a
watch that runs. Whoever had signed in, and every trusted device, signs in anew.

Where no terminal asks, one line is read from standard input.`,
		Example: `  sudo ductward password --data /var/lib/ductward
  ductward password --data data < words.txt`,
		Args: cobra.NoArgs,
	}
	cmd.Flags().StringVar(&data, "data", "", "data folder of the watch (default "+systemData+" where it exists, else ./"+nearData+")")
	cmd.RunE = work(func(cmd *cobra.Command, _ []string) error {
		keys, err := folderOf(data)
		if err != nil {
			return err
		}
		password, err := askPassword(cmd.InOrStdin(), cmd.ErrOrStderr())
		if err != nil {
			return err
		}
		return keep(keys, password, cmd.OutOrStdout())
	})
	return cmd
}

// askPassword reads a password twice from a terminal that shows nothing, or once from what is no terminal.
func askPassword(in io.Reader, prompt io.Writer) (string, error) {
	f, ok := in.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		line, err := bufio.NewReader(io.LimitReader(in, 1<<10)).ReadString('\n')
		if err != nil && !errors.Is(err, io.EOF) {
			return "", fmt.Errorf("read the password: %w", err)
		}
		return strings.TrimRight(line, "\r\n"), nil
	}
	var typed [2]string
	for i, ask := range []string{"New password: ", "Once more: "} {
		fmt.Fprint(prompt, ask)
		line, err := term.ReadPassword(int(f.Fd()))
		fmt.Fprintln(prompt)
		if err != nil {
			return "", fmt.Errorf("read the password: %w", err)
		}
		typed[i] = string(line)
	}
	if typed[0] != typed[1] {
		return "", usage("the two passwords differ: try again")
	}
	return typed[0], nil
}
