package main

import (
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"ductward/daemon/service"
)

func newInstall() *cobra.Command {
	var root, listen string
	var line lineFlags
	var apply, replace bool
	cmd := &cobra.Command{
		Use:   "install SITE",
		Short: "Make the watch a service of this board, or of an image",
		Long: `Tells what it would do, and with --apply does it: copies this program to
/usr/local/bin and the shop file to /etc/ductward/shop.yaml, makes a user of its own
in the groups that own the buses, and writes and starts a systemd service that may
touch nothing but the buses and its data in /var/lib/ductward.

With --root DIR it does so to the files of an image that is being made: nothing is
started, and the image makes the user when it first starts.

systemd starts the watch again if it ends or hangs. It needs no network to start.

A certificate and its key (--tls-cert, --tls-key) stay where they are and whose they are:
systemd hands them to the service at each start, so that its user need not reach them.
Have whatever renews them say "systemctl restart ductward".`,
		Example: `  ductward install shop.yaml
  sudo ductward install shop.yaml --apply
  sudo ductward install shop.yaml --listen 0.0.0.0:443 --tls-cert /etc/ssl/board.pem --tls-key /etc/ssl/board.key --apply
  ductward install shop.yaml --root /mnt/image --listen 0.0.0.0:8137 --apply`,
		Args: cobra.ExactArgs(1),
	}
	fl := cmd.Flags()
	fl.StringVar(&root, "root", "/", "folder of the system to install to")
	fl.StringVar(&listen, "listen", defaultListen, "address of the dashboard, HOST:PORT")
	line.add(fl)
	fl.BoolVar(&apply, "apply", false, "do it")
	fl.BoolVar(&replace, "replace", false, "put SITE in the place of another shop file that is there")
	cmd.RunE = work(func(cmd *cobra.Command, args []string) error {
		if err := line.check(); err != nil {
			return err
		}
		s, err := loadShop(cmd.ErrOrStderr(), args[0])
		if err != nil {
			return err
		}
		program, err := os.Executable()
		if err != nil {
			return err
		}
		plan, err := service.Install(service.Options{Root: root, Program: program, Shop: s.Raw, Replace: replace,
			Door: service.Door{Listen: listen, Cert: line.cert, Key: line.key, Plain: line.plain, Names: line.names}})
		if errors.Is(err, service.ErrOtherShop) {
			return fmt.Errorf("%w: --replace puts SITE in its place", err)
		}
		if err != nil {
			return err
		}
		return carryOut(cmd, plan, apply)
	})
	return cmd
}

func newUninstall() *cobra.Command {
	var root string
	var apply bool
	cmd := &cobra.Command{
		Use:   "uninstall",
		Short: "Take the service away that install made",
		Long: `Tells what it would do, and with --apply does it: stops the service and removes it
and the program. The shop file and the data stay where they are.`,
		Example: `  ductward uninstall
  sudo ductward uninstall --apply`,
		Args: cobra.NoArgs,
	}
	cmd.Flags().StringVar(&root, "root", "/", "folder of the system to uninstall from")
	cmd.Flags().BoolVar(&apply, "apply", false, "do it")
	cmd.RunE = work(func(cmd *cobra.Command, _ []string) error {
		plan, err := service.Uninstall(root)
		if err != nil {
			return err
		}
		return carryOut(cmd, plan, apply)
	})
	return cmd
}

// carryOut does a plan, or only tells it.
func carryOut(cmd *cobra.Command, p *service.Plan, apply bool) error {
	out := cmd.OutOrStdout()
	if apply {
		if err := p.Do(cmd.Context(), out); err != nil {
			return err
		}
	} else {
		for _, s := range p.Steps {
			fmt.Fprintf(out, "would %s\n", s.Text)
		}
	}
	for _, n := range p.Notes {
		fmt.Fprint(out, paragraph(n))
	}
	if !apply {
		fmt.Fprintln(out, "Nothing has been changed: --apply does it.")
	}
	return nil
}
