# For the tests of editors that Debian packages: sourced by their `run`.

# Fetches packages with all that they need and the system lacks, and unpacks them below a folder; installs nothing.
unpack_debian() { # FOLDER PACKAGE…
  local target=$1 work options deb status=0
  shift
  [ "$(cat "$target/complete" 2>/dev/null)" = "$*" ] && return
  command -v apt-get >/dev/null || { echo 'there is no apt-get' >&2; return 1; }
  work=$(mktemp -d)
  options=(-q -o Dir::State::lists="$work/lists" -o Dir::Cache="$work/cache" -o Debug::NoLocking=1 -o APT::Sandbox::User=)
  rm -rf "$target"
  mkdir -p "$target" "$work/lists/partial" "$work/cache/archives/partial"
  apt-get "${options[@]}" update >&2 &&
    # Reinstalled, so that what the system has is fetched, too.
    apt-get "${options[@]}" install --yes --no-install-recommends --reinstall --download-only "$@" >&2 || status=1
  if [ $status -eq 0 ]; then
    for deb in "$work"/cache/archives/*.deb; do dpkg-deb --extract "$deb" "$target" || status=1; done
  fi
  rm -rf "$work"
  [ $status -eq 0 ] && echo "$*" >"$target/complete"
}

# Where the libraries below a folder are, as LD_LIBRARY_PATH has it.
libraries() { # FOLDER
  [ ! -d "$1" ] || find "$1" -name '*.so*' -printf '%h\n' | sort -u | paste -sd:
}
