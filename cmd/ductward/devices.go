package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"ductward/internal/access"
)

func newDevices() *cobra.Command {
	var data, revoke string
	cmd := &cobra.Command{
		Use:   "devices --data DIR",
		Short: "List the screens and phones that need not sign in, or trust one no more",
		Long: `Lists the devices that were trusted on the dashboard's sign-in page: each with the
beginning of its number, its name and since when. --revoke takes the trust of one away,
at once and also for a watch that runs. "ductward password" ends them all.`,
		Example: `  ductward devices --data /var/lib/ductward
  sudo ductward devices --data /var/lib/ductward --revoke 3fa9c1d2`,
		Args: cobra.NoArgs,
	}
	cmd.Flags().StringVar(&data, "data", "", "data folder of the watch (default "+systemData+" where it exists, else ./"+nearData+")")
	cmd.Flags().StringVar(&revoke, "revoke", "", "number of the device to trust no more, or the beginning of it")
	cmd.RunE = work(func(cmd *cobra.Command, _ []string) error {
		keys, err := folderOf(data)
		if err != nil {
			return err
		}
		by, err := keys.Password()
		if err != nil {
			return err
		}
		if cmd.Flags().Changed("revoke") {
			return distrust(cmd, keys, revoke, by)
		}
		return listDevices(cmd, keys, by)
	})
	return cmd
}

func distrust(cmd *cobra.Command, keys access.Folder, id string, by access.Hash) error {
	d, err := keys.Revoke(id, by)
	if errors.Is(err, access.ErrNoDevice) {
		return usage("--revoke %w: %q without it lists those that are", err, cmd.CommandPath())
	}
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(cmd.OutOrStdout(), "%q is trusted no more\n", d.Name)
	return err
}

func listDevices(cmd *cobra.Command, keys access.Folder, by access.Hash) error {
	known, err := keys.Devices(by)
	if err != nil {
		return err
	}
	if len(known) == 0 {
		_, err = fmt.Fprintln(cmd.OutOrStdout(), "no device is trusted")
	}
	for _, d := range known {
		if err == nil {
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s  %s  %q\n", d.ID[:8], d.Since.Local().Format("2006-01-02 15:04"), d.Name)
		}
	}
	return err
}
