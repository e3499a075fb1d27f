package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh"
	"spotface/mesh/scanio"
	"spotface/report"
	"spotface/report/plan"
)

// standardInput is how a file argument names standard input, and how messages name it.
const (
	standardInput = "-"
	inputName     = "standard input"
)

// called is how messages and reports name a file argument.
func called(file string) string {
	if file == standardInput {
		return inputName
	}
	return file
}

// all returns what the named file holds.
func (a *app) all(file string) ([]byte, error) {
	if file == standardInput {
		data, err := io.ReadAll(a.stdin)
		if err != nil {
			err = fmt.Errorf("read %s: %w", inputName, bareError(err))
		}
		return data, err
	}
	data, err := os.ReadFile(file)
	if err != nil {
		err = fmt.Errorf("open %s: %w", file, bareError(err))
	}
	return data, err
}

func (a *app) readScan(ctx context.Context, file string, opt scanio.Options) (*mesh.Scan, error) {
	if file != standardInput {
		return scanio.Read(ctx, file, opt)
	}
	data, err := a.all(file)
	if err != nil {
		return nil, err
	}
	return scanio.ReadFrom(ctx, bytes.NewReader(data), int64(len(data)), inputName, opt)
}

func (a *app) readPoints(ctx context.Context, file string) ([]r3.Vector, []string, error) {
	if file != standardInput {
		return scanio.ReadPoints(ctx, file)
	}
	data, err := a.all(file)
	if err != nil {
		return nil, nil, err
	}
	return scanio.ReadPointsFrom(ctx, bytes.NewReader(data), int64(len(data)), inputName)
}

func (a *app) readReport(file string) (*report.Report, error) {
	data, err := a.all(file)
	if err != nil {
		return nil, err
	}
	rep, err := report.ReadJSON(bytes.NewReader(data))
	if err != nil {
		err = fmt.Errorf("%s: %w", file, err)
	}
	return rep, err
}

func (a *app) readPlan(file string) (*plan.Plan, error) {
	if file != standardInput {
		p, err := plan.Read(file)
		scans := []string{".json", ".stl", ".ply", ".obj", ".3mf", ".xyz"}
		if _, ok := errors.AsType[*plan.Error](err); ok && slices.Contains(scans, extension(file)) {
			err = fmt.Errorf("%s: no plan but a scan or a report, by its name: a plan (YAML) goes here, "+
				"before any scan", file)
		}
		return p, err
	}
	data, err := a.all(file)
	if err != nil {
		return nil, err
	}
	return plan.Parse(inputName, data)
}
