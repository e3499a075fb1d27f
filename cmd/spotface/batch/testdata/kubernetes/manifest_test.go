// Package kubernetes checks the example's manifest against the published types of its API
// version. It is a module of its own, so that the command does not depend on them.
package kubernetes

import (
	"os"
	"strconv"
	"testing"

	batchv1 "k8s.io/api/batch/v1"
	"sigs.k8s.io/yaml"
)

func TestManifest(t *testing.T) {
	text, err := os.ReadFile("../../check-job.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var job batchv1.Job
	if err := yaml.UnmarshalStrict(text, &job); err != nil {
		t.Fatal(err) // a name that the API does not have, twice the same, or another type
	}
	spec := job.Spec
	if job.APIVersion != batchv1.SchemeGroupVersion.String() || job.Kind != "Job" {
		t.Errorf("%s %s is no Job of %s", job.APIVersion, job.Kind, batchv1.SchemeGroupVersion)
	}
	// Only an indexed Job gives its pods an index, and those need a restart policy of a Job.
	if spec.CompletionMode == nil || *spec.CompletionMode != batchv1.IndexedCompletion {
		t.Error("the Job is not indexed")
	}
	if p := spec.Template.Spec.RestartPolicy; p != "Never" && p != "OnFailure" {
		t.Errorf("restartPolicy %q is not one of a Job", p)
	}
	shards := ""
	for _, e := range spec.Template.Spec.Containers[0].Env {
		if e.Name == "SPOTFACE_SHARDS" {
			shards = e.Value
		}
	}
	if spec.Completions == nil || strconv.Itoa(int(*spec.Completions)) != shards {
		t.Errorf("SPOTFACE_SHARDS is %q, not as many as completions", shards)
	}
}
