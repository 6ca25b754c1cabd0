# A workload manager of one node, this machine, in a folder of its own; to be sourced.
#
#   start_node FOLDER   exports SLURM_CONF
#   stop_node           ends what was started

write_node_conf() {
    local dir=$1 host=$2
    cat > "$dir/slurm.conf" <<CONF
ClusterName=one
SlurmctldHost=$host(127.0.0.1)
SlurmUser=root
SlurmctldPort=16817
SlurmdPort=16818
AuthType=auth/munge
AuthInfo=socket=$dir/munge/socket
StateSaveLocation=$dir/state
SlurmdSpoolDir=$dir/spool
SlurmctldPidFile=$dir/slurmctld.pid
SlurmdPidFile=$dir/slurmd.pid
SlurmctldLogFile=$dir/slurmctld.log
SlurmdLogFile=$dir/slurmd.log
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
SelectType=select/cons_tres
SelectTypeParameters=CR_CPU
ReturnToService=2
MpiDefault=none
SwitchType=switch/none
JobAcctGatherType=jobacct_gather/none
NodeName=$host NodeAddr=127.0.0.1 CPUs=$(nproc) State=UNKNOWN
PartitionName=all Nodes=ALL Default=YES MaxTime=INFINITE State=UP
CONF
    # No control group is used here, and not every container shows them; asked to choose, it gives up.
    echo "CgroupPlugin=cgroup/v1" > "$dir/cgroup.conf"
}

start_node() {
    node_dir=$1
    local host
    host=$(hostname -s)
    mkdir -p "$node_dir"/{state,spool,munge}
    chmod 755 "$node_dir" "$node_dir/munge"
    head -c 1024 /dev/urandom > "$node_dir/munge/key"
    chmod 600 "$node_dir/munge/key"
    write_node_conf "$node_dir" "$host"
    export SLURM_CONF=$node_dir/slurm.conf
    # --force: it asks for folders that nobody else may write to, and /tmp is none.
    munged --force --socket="$node_dir/munge/socket" --key-file="$node_dir/munge/key" \
        --pid-file="$node_dir/munge/pid" --seed-file="$node_dir/munge/seed" \
        --log-file="$node_dir/munge/log"
    slurmctld
    slurmd -N "$host"
    for _ in $(seq 100); do
        if sinfo -h -o %T 2>/dev/null | grep -q idle; then return 0; fi
        sleep 0.1
    done
    echo "the node did not become idle" >&2
    cat "$node_dir"/*.log >&2
    return 1
}

stop_node() {
    local file pid
    for file in "$node_dir"/slurmd.pid "$node_dir"/slurmctld.pid "$node_dir"/munge/pid; do
        [ -s "$file" ] || continue
        pid=$(cat "$file")
        kill "$pid" 2>/dev/null || continue
        # It may still write into its folder, which is about to be removed.
        for _ in $(seq 100); do
            kill -0 "$pid" 2>/dev/null || break
            sleep 0.1
        done
    done
}
