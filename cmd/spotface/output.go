package main

import (
	"bytes"
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
)

// outputs collects what a command is to write. Everything is made in memory
// first and written at the end, so that a failure leaves nothing behind.
type outputs struct {
	of    string // what it is made from, for errors
	files []outFile
	err   error // the first of what could not be made
}

type outFile struct {
	path string // empty or "-": standard output
	flag string // that named it, for errors
	data []byte
}

// add puts data on the list for path, which the named flag gave.
func (o *outputs) add(flag, path string, data []byte) {
	o.files = append(o.files, outFile{path: path, flag: flag, data: data})
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

// checkTargets refuses, before any work is done, places that cannot be
// written, that would overwrite an input, or that two flags share. It takes
// pairs of flag and path; unset paths are left out.
func checkTargets(inputs []string, flagPath ...[2]string) error {
	set := func(path string) bool { return path != "" && path != standardInput }
	for i, fp := range flagPath {
		flag, path := fp[0], fp[1]
		if !set(path) {
			continue
		}
		for _, other := range flagPath[:i] {
			if set(other[1]) && sameFile(other[1], path) {
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
		case err == nil:
		case errors.Is(dirErr, fs.ErrNotExist):
			return fmt.Errorf("%s %s: there is no directory %s: make it first", flag, path, dir)
		case !errors.Is(err, fs.ErrNotExist):
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
	if ai, err := os.Stat(a); err == nil {
		if bi, err := os.Stat(b); err == nil {
			return os.SameFile(ai, bi)
		}
		return false
	}
	aa, err1 := filepath.Abs(a)
	bb, err2 := filepath.Abs(b)
	return err1 == nil && err2 == nil && aa == bb
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
		if f.path == "" || f.path == "-" {
			continue
		}
		target, special, err := resolve(f.path)
		if err != nil {
			return fmt.Errorf("%s %s: %w", f.flag, f.path, bareError(err))
		}
		if special {
			// A device or pipe cannot be written beside: it is written straight.
			if err := writeStraight(ctx, target, f.data); err != nil {
				return fmt.Errorf("%s %s: %w", f.flag, f.path, bareError(err))
			}
			continue
		}
		tmp, err := stage(target, f.data)
		if err != nil {
			return fmt.Errorf("%s %s: %w", f.flag, f.path, bareError(err))
		}
		staged = append(staged, [2]string{tmp, target})
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
		if f.path != "" && f.path != "-" {
			continue
		}
		if _, err := io.Copy(stdout, bytes.NewReader(f.data)); err != nil {
			return fmt.Errorf("write to standard output: %w", bareError(err))
		}
	}
	return nil
}

// resolve follows links, so that a rename does not replace the link, and says
// whether path is something else than a regular file.
func resolve(path string) (target string, special bool, err error) {
	target, err = filepath.EvalSymlinks(path)
	if errors.Is(err, fs.ErrNotExist) {
		return path, false, nil
	}
	if err != nil {
		return "", false, err
	}
	info, err := os.Stat(target)
	if err != nil {
		return "", false, err
	}
	return target, !info.Mode().IsRegular(), nil
}

// writeStraight writes to a device or pipe. Opening a pipe waits for its reader, who may
// never come, so the wait ends with ctx.
func writeStraight(ctx context.Context, path string, data []byte) error {
	done := make(chan error, 1)
	go func() {
		f, err := os.OpenFile(path, os.O_WRONLY, 0)
		if err == nil {
			_, err = f.Write(data)
			err = errors.Join(err, f.Close())
		}
		done <- err
	}()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
		return ctx.Err()
	}
}

// stage writes data to a new file beside target and returns its name; a failure leaves no
// file. A target that exists hands on its permissions.
func stage(target string, data []byte) (string, error) {
	perm := fs.FileMode(0o666)
	if info, err := os.Stat(target); err == nil {
		perm = info.Mode().Perm()
	}
	name := filepath.Join(filepath.Dir(target),
		fmt.Sprintf(".%s.%d.part", filepath.Base(target), os.Getpid()))
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, perm)
	if err != nil {
		return "", err
	}
	_, err = f.Write(data)
	if err = errors.Join(err, f.Close()); err != nil {
		os.Remove(name)
		return "", err
	}
	return name, nil
}

// bareError drops operation and path from a file error, which the caller
// words better.
func bareError(err error) error {
	if pe, ok := errors.AsType[*fs.PathError](err); ok {
		return pe.Err
	}
	if le, ok := errors.AsType[*os.LinkError](err); ok {
		return le.Err
	}
	return err
}
