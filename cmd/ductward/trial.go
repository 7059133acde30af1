package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"ductward/internal/trial"
)

// trialFlags is what the command line asks of the trials.
type trialFlags struct {
	only, sets            []string
	seeds, resume         string
	years                 uint64
	quick, json, markdown bool
}

func newTrial() *cobra.Command {
	var f trialFlags
	cmd := &cobra.Command{
		Use:   "trial",
		Short: "Measure how well the watch does its job, on plants whose truth is known",
		Long: `Puts the watch before many plants of an invented shop, each built otherwise than it is
drawn, some healthy and some with a fault, and tells how often it is right: each line with
what the readings allow at best where that is worked out, the aim, and what was reached
with its own sampling error. The plants' formulas are not the watch's.

Every replicate is known by its seed. With --resume each goes into a file when it is done,
and the same command goes on where it was interrupted. The whole of it takes many
core-hours; --quick takes less than three minutes and has pass marks of its own.

Rows: ` + strings.Join(trial.RowNames(), ", ") + `.
Exit code 1 when a pass mark of --quick is missed.`,
		Example: `  ductward trial --quick
  ductward trial --only seen,where --sets A,C --seeds 1-20
  ductward trial --resume trial.jsonl --markdown > table.md`,
		Args: cobra.NoArgs,
	}
	fl := cmd.Flags()
	fl.StringSliceVar(&f.only, "only", nil, "only these rows, comma-separated")
	fl.StringSliceVar(&f.sets, "sets", nil, "only these sensor sets: some of "+strings.Join(trial.Sets, ", "))
	fl.StringVar(&f.seeds, "seeds", "1-100", "the seeds, FROM-TO")
	fl.Uint64Var(&f.years, "years", 10, "how many of the seeds live through a whole year too, in each setting; 0: all")
	fl.StringVar(&f.resume, "resume", "", "file that results go into and are taken from, made when it is not there")
	fl.BoolVar(&f.quick, "quick", false, "few replicates, with pass marks")
	fl.BoolVar(&f.json, "json", false, "write one JSON object")
	fl.BoolVar(&f.markdown, "markdown", false, "write the table as Markdown")
	cmd.MarkFlagsMutuallyExclusive("json", "markdown")
	cmd.RunE = work(func(cmd *cobra.Command, _ []string) error { return runTrial(cmd, f) })
	return cmd
}

func runTrial(cmd *cobra.Command, f trialFlags) (err error) {
	ask := trial.Ask{Rows: f.only, Sets: f.sets, Quick: f.quick, Years: f.years}
	if n, err := fmt.Sscanf(f.seeds+"\n", "%d-%d\n", &ask.From, &ask.To); n != 2 || err != nil {
		return usage("--seeds %q: write FROM-TO, as 1-100", f.seeds)
	}
	if err := ask.Check(); err != nil {
		return usage("%v", err)
	}
	var file *trial.File
	var done []trial.Result
	if f.resume != "" {
		if file, done, err = trial.OpenFile(f.resume, buildID()); err != nil {
			return err
		}
		defer func() { err = errors.Join(err, file.Close()) }()
	}
	results, stopped := trial.Trials(cmd.Context(), ask, done, trialProgress(cmd, file))
	if stopped != nil && !errors.Is(stopped, context.Canceled) {
		return stopped
	}
	t, err := trial.TableOf(ask, results)
	if err != nil {
		return err
	}
	fmt.Fprintf(cmd.ErrOrStderr(), "seeds %d-%d, build %s\n", ask.From, ask.To, buildID())
	if f.json {
		e := json.NewEncoder(cmd.OutOrStdout())
		e.SetIndent("", "  ")
		err = e.Encode(t)
	} else {
		err = t.Write(cmd.OutOrStdout(), f.markdown)
	}
	if err == nil && f.quick && !t.Passed() {
		return notFine()
	}
	return errors.Join(err, stopped)
}

// trialProgress keeps each result, and tells how far the trials are: at the end of a second at the soonest.
func trialProgress(cmd *cobra.Command, file *trial.File) func(trial.Result, int, int) error {
	began, last := time.Now(), time.Now()
	return func(r trial.Result, finished, of int) error {
		if now := time.Now(); now.Sub(last) > 10*time.Second || finished == of {
			last = now
			left := time.Duration(float64(now.Sub(began)) / float64(finished) * float64(of-finished)).Round(time.Second)
			fmt.Fprintf(cmd.ErrOrStderr(), "%d of %d replicates, %v left; last seed %d of %s\n", finished, of, left, r.Seed, r.Setting)
		}
		if file == nil {
			return nil
		}
		return file.Add(r)
	}
}

// buildID names the program that results were made by, to the byte: two builds of one commit may differ.
func buildID() string {
	id := buildVersion()
	path, err := os.Executable()
	if err != nil {
		return id
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return id
	}
	return fmt.Sprintf("%s %08x", id, crc32.ChecksumIEEE(data))
}
