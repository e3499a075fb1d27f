package main

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"spotface/mesh/scanio"
)

// listed is a scan of a list, by its place there, from 1. An error says at once what is
// wrong with its name.
type listed struct {
	number int
	path   string
	err    error
}

// listScans returns the files that the arguments name: a file, a folder with scans, a
// pattern, or @FILE, which lists them one a line.
func (a *app) listScans(args []string) ([]listed, error) {
	paths, err := a.listFiles(args, scanio.HasExtension, "scan")
	if err != nil {
		return nil, err
	}
	out := make([]listed, len(paths))
	for i, p := range paths {
		out[i] = listed{number: i + 1, path: p}
		if _, err := os.Stat(p); err != nil && p != standardInput {
			out[i].err = fmt.Errorf("open %s: %w", p, bareError(err))
		}
	}
	return out, nil
}

// listFiles is listScans for any kind of file; is says which files of a folder are meant.
func (a *app) listFiles(args []string, is func(name string) bool, kind string) ([]string, error) {
	var out []string
	for _, arg := range args {
		files, err := a.expand(arg, is)
		if err != nil {
			return nil, err
		}
		if len(files) == 0 {
			return nil, fmt.Errorf("%s: there is no %s in it", arg, kind)
		}
		out = append(out, files...)
	}
	return out, nil
}

// once leaves out scans that stand in the list before, and says so.
func (a *app) once(list []listed) []listed {
	seen := make(map[string]bool, len(list))
	out := slices.DeleteFunc(slices.Clone(list), func(s listed) bool {
		twice := seen[s.path]
		seen[s.path] = true
		return twice
	})
	if n := len(list) - len(out); n > 0 {
		a.note("%d of the %d scans are named more than once: each is checked once", n, len(list))
	}
	return out
}

func (a *app) expand(arg string, is func(name string) bool) ([]string, error) {
	if list, ok := strings.CutPrefix(arg, "@"); ok {
		data, err := a.all(list)
		if err != nil {
			return nil, err
		}
		var out []string
		for line := range strings.Lines(string(data)) {
			if line = strings.TrimSpace(line); line != "" && !strings.HasPrefix(line, "#") {
				out = append(out, line)
			}
		}
		return out, nil
	}
	info, err := os.Stat(arg)
	switch {
	case err == nil && info.IsDir():
		entries, err := os.ReadDir(arg)
		if err != nil {
			return nil, fmt.Errorf("open %s: %w", arg, bareError(err))
		}
		var out []string
		for _, e := range entries {
			if !e.IsDir() && is(e.Name()) {
				out = append(out, filepath.Join(arg, e.Name()))
			}
		}
		return out, nil
	case err != nil && strings.ContainsAny(arg, "*?["):
		out, err := filepath.Glob(arg)
		if err != nil {
			return nil, fmt.Errorf("%s: this is no pattern: close its bracket", arg)
		}
		return out, nil
	}
	return []string{arg}, nil
}

// shard is one of count equal parts of a list: every count-th item from index on.
type shard struct{ index, count int }

// of returns the shard's items.
func (s shard) of(list []listed) []listed {
	var out []listed
	for i := s.index; i < len(list); i += s.count {
		out = append(out, list[i])
	}
	return out
}

// parseShard reads the value of --shard: I/N, I from 0.
func parseShard(text string) (shard, error) {
	i, n, _ := strings.Cut(text, "/")
	index, err1 := strconv.Atoi(i)
	count, err2 := strconv.Atoi(n)
	if err1 != nil || err2 != nil || index < 0 || index >= count {
		return shard{}, fmt.Errorf("--shard %q: give I/N, such as 0/8 for the first of eight "+
			"shards, up to 7/8", text)
	}
	return shard{index, count}, nil
}

// engineShard returns the shard that a batch engine's variables ask for, and the one that
// says it; empty where there is none. An indexed Job does not tell its pods how many they
// are, so SPOTFACE_SHARDS does. Sources: sbatch(1) of Slurm, "output environment variables";
// Kubernetes, "Indexed Job for parallel processing with static work assignment".
func engineShard(getenv func(string) string) (s shard, variable string, err error) {
	const slurm, job = "SLURM_ARRAY_TASK_", "JOB_COMPLETION_INDEX"
	variable = slurm + "ID"
	id, first := getenv(variable), getenv(slurm+"MIN")
	step, count := getenv(slurm+"STEP"), getenv(slurm+"COUNT")
	if id == "" {
		variable = job
		id, first, step, count = getenv(job), "0", "1", getenv("SPOTFACE_SHARDS")
	}
	if id == "" {
		return s, "", nil
	}
	step = cmp.Or(step, "1")
	var at, from, by int
	_, err = fmt.Sscan(strings.Join([]string{id, first, step, count}, " "), &at, &from, &by, &s.count)
	if err == nil && by > 0 && (at-from)%by == 0 {
		if s.index = (at - from) / by; s.index >= 0 && s.index < s.count {
			return s, variable, nil
		}
	}
	return shard{}, variable, fmt.Errorf("%s is %q, numbered from %q by %q, of %q: that is no even "+
		"division of a list; give --shard I/N (or how many, in SPOTFACE_SHARDS)",
		variable, id, first, step, count)
}
