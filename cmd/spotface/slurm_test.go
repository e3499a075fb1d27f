//go:build outside

package main

import (
	"bytes"
	"context"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/scanio"
	"spotface/mesh/scansim"
)

// The example script in a real Slurm of Debian's packages, controller and daemon on the
// loopback: an array of 8 tasks over 40 simulated scans, one task stopped half-way and
// requeued. The joined results are byte for byte those of one run.
func TestSlurmArrayGivesTheBytesOfOneRun(t *testing.T) {
	const scans, tasks, stopped = 40, 8, 3
	dir := t.TempDir()
	script, err := filepath.Abs("batch/check.sbatch")
	require.NoError(t, err)
	require.NoError(t, os.Mkdir(filepath.Join(dir, "scans"), 0o755))
	var list []string
	for i := range scans {
		// Those of the task that is stopped take longer, so that there is a half-way.
		voxel := 1.0
		if i%tasks == stopped {
			voxel = 0.6
		}
		part := scansim.Flange(scansim.FlangeSpec{Diameter: 56, Thickness: 5, Bore: 20, PitchDiameter: 40})
		scan, _, err := scansim.Fused(t.Context(), part, scansim.FusedOptions{Seed: uint64(i), Voxel: voxel, Noise: 0.01})
		require.NoError(t, err)
		var b bytes.Buffer
		require.NoError(t, scanio.WriteSTL(&b, scan))
		name := fmt.Sprintf("scans/part-%02d.stl", i+1)
		if i == 17 { // a broken one is a line, too
			b.Truncate(b.Len() / 2)
		}
		write(t, dir, name, b.String())
		list = append(list, name)
	}
	write(t, dir, "scans.txt", strings.Join(list, "\n")+"\n")
	write(t, dir, "port.yaml", smallPlan)
	command := write(t, dir, "spotface", "#!/bin/sh\nSPOTFACE_TEST_COMMAND=1 exec "+os.Args[0]+" \"$@\"\n")
	require.NoError(t, os.Chmod(command, 0o755))

	one := exec.CommandContext(t.Context(), command, "check", "port.yaml", "@scans.txt", "--format", "jsonl")
	one.Dir = dir
	want, err := one.Output()
	require.ErrorContains(t, err, "exit status 2", "one is broken")
	require.Equal(t, scans, bytes.Count(want, []byte("\n")))

	s := startSlurm(t)
	begin := time.Now()
	job := strings.TrimSpace(s.run(t, "sbatch", "--parsable", "--chdir="+dir, "--export=ALL,SPOTFACE="+command,
		"--output="+dir+"/task-%a.log", "--open-mode=append", script))
	task := fmt.Sprintf("%s_%d", job, stopped)
	half := filepath.Join(dir, fmt.Sprintf("results-%d.jsonl", stopped))
	require.Eventually(t, func() bool {
		text, _ := os.ReadFile(half)
		return bytes.Contains(text, []byte("\n"))
	}, time.Minute, 5*time.Millisecond, "%s", s.logs())
	s.run(t, "scontrol", "requeue", task)
	t.Logf("task %s was requeued %.1f s after the start", task, time.Since(begin).Seconds())
	// A requeued task would wait two minutes. Started again at once, it is at times (1 of 25)
	// said to have failed, by the end of its first run; after ten seconds it is not.
	time.Sleep(10 * time.Second)
	for {
		queue := s.run(t, "squeue", "--noheader", "--states=all", "--array", "--format=%K %T %r")
		if strings.Count(queue, "COMPLETED") == tasks {
			break
		}
		if strings.Contains(queue, "BeginTime") {
			s.run(t, "scontrol", "update", "jobid="+task, "starttime=now")
		}
		require.Less(t, time.Since(begin), 4*time.Minute, "%s\n%s", queue, s.logs())
		time.Sleep(500 * time.Millisecond)
	}
	t.Logf("all tasks were done after %.1f s", time.Since(begin).Seconds())

	log, err := os.ReadFile(filepath.Join(dir, fmt.Sprintf("task-%d.log", stopped)))
	require.NoError(t, err)
	t.Logf("task %d said:\n%s", stopped, log)
	assert.Contains(t, string(log), "shard 3/8 of the 40 scans, as SLURM_ARRAY_TASK_ID says")
	assert.Regexp(t, `[1-4] of 5 scans have a line in results-3.jsonl: [1-4] to check`, string(log), "it went on half-way")

	join := exec.CommandContext(t.Context(), "sh", "-c", `paste -d '\n' results-[0-7].jsonl | sed '/^$/d'`) // as the page has it
	join.Dir = dir
	got, err := join.Output()
	require.NoError(t, err)
	assert.True(t, bytes.Equal(want, got), "%d bytes of one run, %d joined", len(want), len(got))
}

// slurm is a controller and a daemon on the loopback, with a key of their own.
type slurm struct {
	dir string
	env []string
}

func startSlurm(t *testing.T) *slurm {
	t.Helper()
	dir, err := os.MkdirTemp("", "slurm") // short: the paths of sockets are limited
	require.NoError(t, err)
	t.Cleanup(func() { os.RemoveAll(dir) })
	host, err := os.Hostname()
	require.NoError(t, err)
	host, _, _ = strings.Cut(host, ".")
	s := &slurm{dir: dir, env: append(os.Environ(), "SLURM_CONF="+filepath.Join(dir, "slurm.conf"))}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "munge.key"), bytes.Repeat([]byte("spotface"), 16), 0o600))
	write(t, dir, "cgroup.conf", "CgroupPlugin=cgroup/v1\n")
	write(t, dir, "slurm.conf", fmt.Sprintf(`ClusterName=test
SlurmctldHost=%[1]s(127.0.0.1)
SlurmctldPort=%[3]d
SlurmdPort=%[4]d
CommunicationParameters=NoInAddrAny,NoCtldInAddrAny
SlurmUser=root
AuthType=auth/munge
AuthInfo=socket=%[2]s/munge
CredType=cred/munge
StateSaveLocation=%[2]s/state
SlurmdSpoolDir=%[2]s/spool
SlurmctldPidFile=%[2]s/slurmctld.pid
SlurmdPidFile=%[2]s/slurmd.pid
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
JobAcctGatherType=jobacct_gather/none
SelectType=select/cons_tres
SelectTypeParameters=CR_Core
SchedulerParameters=sched_min_interval=100000,batch_sched_delay=0
KillWait=2
SlurmdParameters=config_overrides
NodeName=n1 NodeHostname=%[1]s NodeAddr=127.0.0.1 CPUs=8 RealMemory=16000 State=UNKNOWN
PartitionName=all Nodes=n1 Default=YES MaxTime=INFINITE State=UP
`, host, dir, freePort(t), freePort(t)))
	for _, sub := range []string{"state", "spool"} {
		require.NoError(t, os.Mkdir(filepath.Join(dir, sub), 0o755))
	}
	s.start(t, "/usr/sbin/munged", "--foreground", "--force", "--socket="+dir+"/munge", "--key-file="+dir+"/munge.key",
		"--pid-file="+dir+"/munged.pid", "--log-file="+dir+"/munged.log", "--seed-file="+dir+"/munged.seed")
	require.Eventually(t, func() bool {
		_, err := os.Stat(filepath.Join(dir, "munge"))
		return err == nil
	}, 10*time.Second, 10*time.Millisecond, "%s", s.logs())
	s.start(t, "/usr/sbin/slurmctld", "-D")
	s.start(t, "/usr/sbin/slurmd", "-D", "-N", "n1")
	require.Eventually(t, func() bool {
		cmd := exec.CommandContext(t.Context(), "sinfo", "--noheader", "--format=%T")
		cmd.Env = s.env
		out, _ := cmd.Output()
		return strings.TrimSpace(string(out)) == "idle"
	}, 30*time.Second, 100*time.Millisecond, "%s", s.logs())
	return s
}

// start runs a daemon to the end of the test; its output is a log in the folder.
func (s *slurm) start(t *testing.T, name string, args ...string) {
	t.Helper()
	log, err := os.Create(filepath.Join(s.dir, filepath.Base(name)+".out"))
	require.NoError(t, err)
	ctx, stop := context.WithCancel(context.Background())
	cmd := exec.CommandContext(ctx, name, args...)
	cmd.Env, cmd.Stdout, cmd.Stderr = s.env, log, log
	cmd.Cancel = func() error { return cmd.Process.Signal(os.Interrupt) }
	cmd.WaitDelay = 5 * time.Second
	require.NoError(t, cmd.Start())
	t.Cleanup(func() {
		stop()
		cmd.Wait()
		log.Close()
	})
}

func (s *slurm) run(t *testing.T, name string, args ...string) string {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), name, args...)
	cmd.Env = s.env
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, "%s %v: %s\n%s", name, args, out, s.logs())
	return string(out)
}

// logs is what the daemons said last.
func (s *slurm) logs() string {
	var b strings.Builder
	files, _ := filepath.Glob(filepath.Join(s.dir, "*.out"))
	for _, f := range files {
		text, _ := os.ReadFile(f)
		fmt.Fprintf(&b, "%s:\n%s\n", filepath.Base(f), text[max(0, len(text)-3000):])
	}
	return b.String()
}

func freePort(t *testing.T) int {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}
