package main

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"

	"github.com/spf13/cobra"

	"spotface/report"
)

// outputs collects what a command is to write. Everything is made in memory
// first and written at the end, so that a failure leaves nothing behind.
type outputs struct {
	of    string // what it is made from, for errors
	files []outFile
	err   error // the first of what could not be made
}

type outFile struct {
	path string // "-": standard output
	flag string // that named it, for errors
	data []byte
}

// add puts data on the list for path, which the named flag gave.
func (o *outputs) add(flag, path string, data []byte) {
	o.files = append(o.files, outFile{cmp.Or(path, standardInput), flag, data})
}

// print adds what write prints to the list: the result, of -o, wherever it goes, anything
// else if its flag was given.
func (o *outputs) print(flag, path string, write func(w io.Writer) error) {
	if o.err != nil || path == "" && flag != "-o" {
		return
	}
	var b bytes.Buffer
	switch err := write(&b); {
	case err == nil:
		o.add(flag, path, b.Bytes())
	case flag != "-o":
		o.err = fmt.Errorf("%s %s: %w", flag, path, err)
	case o.of != "":
		o.err = fmt.Errorf("%s: %w", o.of, err)
	default:
		o.err = err
	}
}

// result writes everything, the result, of -o, as JSON of v where the flags want that, else as
// text.
func (a *app) result(cmd *cobra.Command, o *outputs, out *outFlags, v any,
	text func(w io.Writer) error) error {
	o.print("-o", out.out, func(w io.Writer) error {
		if out.format == "json" {
			return report.WriteJSON(w, v)
		}
		return text(w)
	})
	return o.write(cmd.Context(), a.stdout)
}

// checkTargets refuses, before any work is done, places that cannot be
// written, that would overwrite an input, or that two flags share. It takes
// pairs of flag and path; unset paths are left out.
func checkTargets(inputs []string, flagPath ...[2]string) error {
	files := slices.DeleteFunc(flagPath, func(fp [2]string) bool {
		return fp[1] == "" || fp[1] == standardInput
	})
	for i, fp := range files {
		flag, path := fp[0], fp[1]
		for _, other := range files[:i] {
			if sameFile(other[1], path) {
				return fmt.Errorf("%s and %s both name %s: give each a file of its own", other[0], flag, path)
			}
		}
		for _, in := range inputs {
			if sameFile(in, path) {
				return fmt.Errorf("%s %s would overwrite the input %s: give another name", flag, path, in)
			}
		}
		info, err := os.Stat(path)
		dir := filepath.Dir(path)
		_, dirErr := os.Stat(dir)
		switch {
		case err == nil && info.IsDir():
			return fmt.Errorf("%s %s is a directory: name a file in it", flag, path)
		case errors.Is(dirErr, fs.ErrNotExist):
			return fmt.Errorf("%s %s: there is no directory %s: make it first", flag, path, dir)
		case err != nil && !errors.Is(err, fs.ErrNotExist):
			return fmt.Errorf("%s %s: %w", flag, path, bareError(err))
		}
	}
	return nil
}

// extension is that of a file, which says its format.
func extension(file string) string { return strings.ToLower(filepath.Ext(file)) }

// writable pairs files with their place among the arguments, as flags are with theirs, and
// refuses what has no writer.
func writable[T any](files []string, writers map[string]T) (out [][2]string, err error) {
	for i, file := range files {
		if _, ok := writers[extension(file)]; !ok {
			return nil, fmt.Errorf("%s: nothing is written as %q: use %s", file, filepath.Ext(file),
				orList(slices.Sorted(maps.Keys(writers))))
		}
		out = append(out, [2]string{fmt.Sprintf("FILE %d", i+1), file})
	}
	return out, nil
}

// keepPlan refuses to overwrite a plan.
func keepPlan(flag, path, or string) error {
	if _, err := os.Stat(path); path == "" || err != nil {
		return nil
	}
	return fmt.Errorf("%s %s: there is such a file, which may be a plan that was edited: "+
		"give another name%s", flag, path, or)
}

// sameFile reports whether both paths name one file, by any name.
func sameFile(a, b string) bool {
	ai, errA := os.Stat(a)
	bi, errB := os.Stat(b)
	if errA == nil && errB == nil {
		return os.SameFile(ai, bi)
	}
	aa, errA := filepath.Abs(a)
	bb, errB := filepath.Abs(b)
	return errA == nil && errB == nil && aa == bb
}

// write puts every output in its place: first all files beside their targets,
// then the renames, then standard output. If ctx ends before the renames, or
// anything fails, the files beside are removed and the targets stay as they
// were.
func (o *outputs) write(ctx context.Context, stdout io.Writer) (err error) {
	if o.err != nil {
		return o.err
	}
	var staged [][2]string // temporary, target
	defer func() {
		for _, s := range staged {
			os.Remove(s[0]) // gone already where the rename went well
		}
	}()
	for _, f := range o.files {
		if f.path == standardInput {
			continue
		}
		tmp, target, err := stage(ctx, f.path, f.data)
		if err != nil {
			return fmt.Errorf("%s %s: %w", f.flag, f.path, bareError(err))
		}
		if tmp != "" {
			staged = append(staged, [2]string{tmp, target})
		}
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	for _, s := range staged {
		if err := os.Rename(s[0], s[1]); err != nil {
			return fmt.Errorf("write %s: %w", s[1], bareError(err))
		}
	}
	for _, f := range o.files {
		if f.path != standardInput {
			continue
		}
		if _, err := stdout.Write(f.data); err != nil {
			return fmt.Errorf("write to standard output: %w", bareError(err))
		}
	}
	return nil
}

// stage writes data to a new file beside that of path, links followed, and returns its name
// and the target's; a failure leaves no file. A target that exists hands on its permissions. A
// device or pipe cannot be written beside: it is written straight, and there is no new file.
func stage(ctx context.Context, path string, data []byte) (name, target string, err error) {
	if target, err = filepath.EvalSymlinks(path); err != nil {
		target = path // a file that is not there yet
	}
	perm := fs.FileMode(0o666)
	if info, err := os.Stat(target); err == nil {
		if perm = info.Mode().Perm(); !info.Mode().IsRegular() {
			return "", "", writeStraight(ctx, target, data)
		}
	}
	name = filepath.Join(filepath.Dir(target),
		fmt.Sprintf(".%s.%d.part", filepath.Base(target), os.Getpid()))
	if err = os.WriteFile(name, data, perm); err != nil {
		os.Remove(name)
	}
	return name, target, err
}

// writeStraight writes to a device or pipe. Opening a pipe waits for its reader, who may
// never come, so the wait ends with ctx.
func writeStraight(ctx context.Context, path string, data []byte) error {
	done := make(chan error, 1)
	go func() { done <- os.WriteFile(path, data, 0) }()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
		return ctx.Err()
	}
}

// bareError drops operation and path from the error of a file, which the caller words better.
func bareError(err error) error {
	if no, ok := errors.AsType[syscall.Errno](err); ok {
		return no
	}
	return err
}
